// What an answer says about a part, as contractor/checkups/rules/verdicts.py judges it; limits are inclusive.
// An item comes from the pack; a reading is {condition, numberSi, seconds, text, because, photos, noPhotoBecause}.

import { gravityAt27C, inflowFromRise, loadTestMinimumV, pumpFlowFromDrawdown } from "./formulas.js";
import { displayUnit, shown, toSi } from "./units.js";

export const GOOD = "good";
export const WATCH = "watch";
export const BAD = "bad";
export const NOT_POSSIBLE = "not possible";
const WORDS = [GOOD, WATCH, BAD, NOT_POSSIBLE];

const STRICTEST_LOAD_TEST_C = toSi(70, "degF");
const [LEAST_GRAVITY, MOST_GRAVITY] = [1.0, 1.4];
const [BUSY_SHARE, OVERRUN_SHARE] = [0.5, 0.8];
export const TIMED_FORMULAS = ["pit_rise_inflow", "pump_down_flow"];

function isMissing(value) {
  return value === null || value === undefined;
}

/** Whether a reading holds what its item asks for; "not possible" counts when it says why. */
export function isAnswered(item, reading) {
  if (!reading) return false;
  if (reading.condition === NOT_POSSIBLE) return Boolean((reading.because || "").trim());
  if (item.kind === "check") return WORDS.includes(reading.condition);
  if (item.kind === "photo") return (reading.photos || 0) > 0;
  if (item.kind === "note") return Boolean((reading.text || "").trim());
  if (item.kind === "timed_test") {
    const timed = !isMissing(reading.seconds) && reading.seconds > 0;
    return timed && (!item.formula || !isMissing(reading.numberSi));
  }
  return !isMissing(reading.numberSi);
}

/** What a sentence calls the thing that is judged. */
export function nameOf(item) {
  return item.subject || item.prompt.replace(/\.+$/, "");
}

function start(words) {
  return words.slice(0, 1).toUpperCase() + words.slice(1);
}

function result(word, sentence, severity = "", valueSi = null, toDo = "") {
  return { word, sentence, severity, valueSi, toDo };
}

/** The verdict of one reading: {word, sentence, severity, valueSi, toDo}.
 *  `setting` is {temperatureC, diameterM, inflowM3S, system}; the reading must be answered. */
export function verdict(item, reading, setting) {
  if (reading.condition === NOT_POSSIBLE) {
    const because = start(reading.because.trim().replace(/\.+$/, ""));
    return result(NOT_POSSIBLE, `${start(nameOf(item))}: not possible. ${because}.`);
  }
  if (item.kind === "photo" || item.kind === "note") return result(GOOD, `${start(nameOf(item))}: recorded.`);
  if (item.kind === "check") {
    const said = reading.condition === WATCH ? "worth watching" : reading.condition;
    return withSeverity(item, reading.condition, `${start(nameOf(item))}: ${said}.`);
  }
  if (item.formula === "load_test") return loadTest(item, reading, setting);
  if (item.formula === "gravity") return gravity(item, reading, setting);
  if (TIMED_FORMULAS.includes(item.formula)) return timedFlow(item, reading, setting);
  const valueSi = item.kind === "timed_test" ? reading.seconds : reading.numberSi;
  return byLimits(item, valueSi, item.unit || "count");
}

function withSeverity(item, word, sentence, valueSi = null) {
  let toDo = "";
  if (word === WATCH) toDo = item.when_watch || "Look again at the next check-up.";
  if (word === BAD) toDo = item.what_to_do;
  const severity = { [WATCH]: "watch", [BAD]: item.severity }[word] || "";
  return result(word, `${sentence} ${toDo}`.trim(), severity, valueSi, toDo);
}

// Room for the last digit of a unit conversion, so that 18 in typed meets a limit of 18 in.
function slack(limit) {
  return 1e-9 * Math.max(Math.abs(limit), 1e-3);
}

function reaches(value, limit) {
  return value >= limit - slack(limit);
}

function staysBelow(value, limit) {
  return value <= limit + slack(limit);
}

/** The word for a value within the item's limits, and the good limit that it misses (null when good). */
export function judgeByLimits(item, valueSi) {
  const sides = [
    [item.good_low, item.watch_low, reaches],
    [item.good_high, item.watch_high, staysBelow],
  ];
  for (const [good, watch, holds] of sides) {
    if (!isMissing(good) && !holds(valueSi, good)) {
      return [!isMissing(watch) && holds(valueSi, watch) ? WATCH : BAD, good];
    }
  }
  return [GOOD, null];
}

function byLimits(item, valueSi, unit) {
  const [word, missed] = judgeByLimits(item, valueSi);
  if (missed === null) return withSeverity(item, word, `${start(nameOf(item))}: ${shown(valueSi, unit)}.`, valueSi);
  const [value, limit] = shownApart(valueSi, missed, unit);
  const side = valueSi < missed ? `below the ${limit} needed` : `above the ${limit} allowed`;
  return withSeverity(item, word, `${start(nameOf(item))}: ${value} is ${side}.`, valueSi);
}

/** Two values in `unit` with as many digits as it takes to tell them apart. */
export function shownApart(valueSi, limitSi, unit) {
  let pair = ["", ""];
  for (let more = 0; more < 6; more += 1) {
    pair = [shown(valueSi, unit, more), shown(limitSi, unit, more)];
    if (pair[0] !== pair[1]) break;
  }
  return pair;
}

function loadTest(item, reading, { temperatureC, system }) {
  const volts = reading.numberSi;
  const judgedC = isMissing(temperatureC) ? STRICTEST_LOAD_TEST_C : temperatureC;
  const least = loadTestMinimumV(judgedC);
  const at = shown(judgedC, displayUnit("temperature", system));
  const assumed = isMissing(temperatureC) ? " No temperature was recorded, so the strictest was taken." : "";
  if (reaches(volts, least)) {
    const meets = `${shown(volts, "V")} under load meets the ${shown(least, "V")} needed at ${at}.${assumed}`;
    return result(GOOD, meets, "", volts);
  }
  const [value, needed] = shownApart(volts, least, "V");
  const toDo = item.what_to_do;
  const then = toDo.slice(0, 1).toLowerCase() + toDo.slice(1);
  const sentence = `${value} under load is below the ${needed} needed at ${at}: ${then}${assumed}`;
  return result(BAD, sentence, item.severity, volts, toDo);
}

function gravity(item, reading, { temperatureC }) {
  const read = reading.numberSi;
  if (!(LEAST_GRAVITY <= read && read <= MOST_GRAVITY)) {
    return unbelievable(item, "acid reads between 1.000 and 1.400, such as 1.265");
  }
  return byLimits(item, isMissing(temperatureC) ? read : gravityAt27C(read, temperatureC), item.unit || "SG");
}

function unbelievable(item, because) {
  return result(NOT_POSSIBLE, `${start(nameOf(item))}: this cannot be right, ${because}. Read it again.`);
}

function timedFlow(item, reading, setting) {
  if (reading.numberSi < 0) return unbelievable(item, "type how far the water moved, without a sign");
  const flow = timedFlowM3S(item, reading, setting);
  if (flow === null) {
    const sentence = `${start(nameOf(item))}: recorded; the flow appears when the pit's diameter is known.`;
    return result(NOT_POSSIBLE, sentence);
  }
  const unit = displayUnit("flow", setting.system);
  const judged = byLimits(item, flow, unit);
  if (item.formula !== "pump_down_flow" || !setting.inflowM3S) return judged;
  return againstInflow(item, judged, setting.inflowM3S, unit);
}

/** The flow that a timed test in the pit gives, in m³/s; null while the pit's diameter is not known. */
export function timedFlowM3S(item, reading, { diameterM, inflowM3S }) {
  if (isMissing(diameterM)) return null;
  const { numberSi: moved, seconds } = reading;
  if (item.formula === "pit_rise_inflow") return inflowFromRise(diameterM, moved, seconds);
  const inflow = inflowM3S || 0;
  return moved === 0 ? inflow : pumpFlowFromDrawdown(diameterM, moved, seconds, inflow);
}

// A pump must move clearly more than runs in, whatever its limits say; the worse of both judgements holds.
function againstInflow(item, judged, inflowM3S, unit) {
  const flow = judged.valueSi;
  const share = flow > 0 ? inflowM3S / flow : 1;
  const word = share > OVERRUN_SHARE ? BAD : share > BUSY_SHARE ? WATCH : GOOD;
  if (WORDS.indexOf(word) <= WORDS.indexOf(judged.word)) return judged;
  const sentence = `${start(nameOf(item))}: ${shown(flow, unit)} is little against the ${shown(inflowM3S, unit)} that runs in.`;
  return withSeverity(item, word, sentence, flow);
}
