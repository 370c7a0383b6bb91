// What a whole check-up comes to, as contractor/checkups/rules/outcomes.py reckons it: verdicts that depend on other
// answers, what is missing, which findings a verdict asks for, how each part stands.

import { BAD, GOOD, NOT_POSSIBLE, WATCH, isAnswered, verdict } from "./verdicts.js";

const SEVERITIES = ["", "watch", "bad", "urgent"];

/** Sets `verdict` on every line of {item, component, reading, data}; `pits` are the ids of the pits in place. */
export function judge(lines, pits, system) {
  const temperatureC = temperatureOf(lines);
  const inflowOf = new Map();
  const risesFirst = [...lines].sort(
    (one, other) => (one.item.formula !== "pit_rise_inflow") - (other.item.formula !== "pit_rise_inflow"),
  );
  for (const line of risesFirst) {
    line.verdict = null;
    if (!isAnswered(line.item, line.reading)) continue;
    const pit = pitOf(line, pits);
    const diameterM = pit === null ? null : line.data?.pit_diameter_m || null;
    const setting = { temperatureC, diameterM, inflowM3S: inflowOf.get(pit) ?? null, system };
    line.verdict = verdict(line.item, line.reading, setting);
    const isRise = pit !== null && line.item.formula === "pit_rise_inflow";
    if (isRise && line.verdict.valueSi !== null) inflowOf.set(pit, line.verdict.valueSi);
  }
}

function temperatureOf(lines) {
  const line = lines.find((one) => one.item.feeds === "basement.temperature_c" && one.reading);
  return line ? (line.reading.numberSi ?? null) : null;
}

// The pit that a line's test is made in: its own part, or the only one; null when nothing says which.
function pitOf(line, pits) {
  if (pits.length > 1) return pits.includes(line.component) ? line.component : null;
  return pits.length === 1 ? pits[0] : null;
}

/** What a line still asks for, as a sentence; empty when nothing. */
export function missingOf(line) {
  const name = `“${line.item.prompt}”${line.part ? ` (${line.part})` : ""}`;
  if (!line.verdict) {
    if (line.reading?.condition === NOT_POSSIBLE) return `Say why ${name} was not possible.`;
    return line.item.required ? `Answer ${name}.` : "";
  }
  return lacksPhoto(line) ? `Take a photo for ${name}, or say why there is none.` : "";
}

function lacksPhoto({ item, reading, verdict: result }) {
  const due =
    (item.photo === "always" && result.word !== NOT_POSSIBLE) || (item.photo === "when_bad" && result.word === BAD);
  return due && !reading.photos && !(reading.noPhotoBecause || "").trim();
}

/** Whether the verdict of a line asks for a finding that nobody has written down as gravely. */
export function asksForFinding(line) {
  const written = Math.max(0, ...line.findings.map((one) => SEVERITIES.indexOf(one.value.severity)));
  return Boolean(line.verdict) && SEVERITIES.indexOf(line.verdict.severity) > written;
}

/** How a part stands after its lines and what was found on it: good, watch, bad, or unknown when nothing was judged. */
export function conditionOf(lines, findings) {
  const mended = new Set(findings.filter((one) => one.value.done).map((one) => one.value.item));
  const said = findings.filter((one) => !one.value.done).map((one) => wordOf(one.value.severity));
  let judged = false;
  for (const line of lines) {
    if (!line.verdict || line.verdict.word === NOT_POSSIBLE) continue;
    judged = true;
    if (!mended.has(line.item.code)) said.push(wordOf(line.verdict.severity));
  }
  if (!said.length) return judged ? GOOD : "unknown";
  return [BAD, WATCH, GOOD].find((word) => said.includes(word));
}

function wordOf(severity) {
  if (severity === "bad" || severity === "urgent") return BAD;
  return severity ? WATCH : GOOD;
}
