// Figures of a line as people read them: limits, last year's value, what was measured, each in the unit of the gauge.

import { UNITS, displayUnit, fromSi, shown, toSi } from "../units.js";
import { TIMED_FORMULAS } from "../verdicts.js";
import { day } from "../words.js";

/** The unit of what is judged: for a timed test that makes a flow, that of the flow. */
export function judgedUnit(item, system) {
  return TIMED_FORMULAS.includes(item.formula) ? displayUnit("flow", system) : item.unit || "count";
}

// The unit chosen at the field where it measures what is judged; else the company's.
function unitFor(item, system, gauge) {
  const judged = judgedUnit(item, system);
  return gauge && UNITS[gauge].quantity === UNITS[judged].quantity ? gauge : judged;
}

/** "55 °F to 85 °F", "at least 12.45 V", or nothing; in the unit of the gauge in hand. */
export function limitsWords(item, system, gauge = "") {
  const unit = unitFor(item, system, gauge);
  const [low, high] = [item.good_low ?? null, item.good_high ?? null];
  if (low !== null && high !== null) return `${shown(low, unit)} to ${shown(high, unit)}`;
  if (low !== null) return `at least ${shown(low, unit)}`;
  return high !== null ? `at most ${shown(high, unit)}` : "";
}

/** What was said last time: "12.7 V, good (November 2, 2025)"; in the unit of the gauge in hand. */
export function lastWords({ item, last }, system, gauge = "") {
  if (!last) return "";
  let words = last.text;
  const unit = last.number ? unitFor(item, system, gauge) : last.unit;
  if (unit !== last.unit && UNITS[unit].quantity === UNITS[last.unit].quantity) {
    const behind = words.lastIndexOf(", ");
    words = `${shown(toSi(Number(last.number), last.unit), unit)}${behind < 0 ? "" : words.slice(behind)}`;
  }
  return `${words}${last.on ? ` (${day(last.on)})` : ""}`;
}

// What only ever goes up: less than last time is a slip of the reader, or another counter.
const COUNTERS = ["pump.run_hours", "pump.starts"];

/** What to do about a counter that reads less than last time; empty for everything else. */
export function counterWords({ item, last }, valueSi) {
  if (!COUNTERS.includes(item.feeds) || !last?.number || valueSi === null) return "";
  return Number(fromSi(valueSi, last.unit).toPrecision(10)) < Number(last.number) ? "Less than last time: read it again, unless the counter is another one or was set back." : "";
}

/** What was judged, as a figure; a flow, which no gauge shows, in both systems. Empty for what has none. */
export function valueWords(item, value, result, system) {
  if (result.valueSi === null || result.word === "not possible") return "";
  const unit = judgedUnit(item, system);
  const other = displayUnit("flow", system === "metric" ? "us" : "metric");
  const also = UNITS[unit].quantity === "flow" ? ` (${shown(result.valueSi, other)})` : "";
  return `${shown(result.valueSi, unit)}${also}`;
}
