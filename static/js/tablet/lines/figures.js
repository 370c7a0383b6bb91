// Figures of a line as people read them: limits, last year's value, what was measured, each in the unit of the gauge.

import { displayUnit, shown } from "../units.js";
import { TIMED_FORMULAS } from "../verdicts.js";
import { day } from "../words.js";

/** The unit of what is judged: for a timed test that makes a flow, that of the flow. */
export function judgedUnit(item, system) {
  return TIMED_FORMULAS.includes(item.formula) ? displayUnit("flow", system) : item.unit || "count";
}

/** "55 °F to 85 °F", "at least 12.45 V", or nothing. */
export function limitsWords(item, system) {
  const unit = judgedUnit(item, system);
  const [low, high] = [item.good_low ?? null, item.good_high ?? null];
  if (low !== null && high !== null) return `${shown(low, unit)} to ${shown(high, unit)}`;
  if (low !== null) return `at least ${shown(low, unit)}`;
  return high !== null ? `at most ${shown(high, unit)}` : "";
}

export function lastWords(line) {
  if (!line.last) return "";
  return `${line.last.text}${line.last.on ? ` (${day(line.last.on)})` : ""}`;
}

/** What was judged, as a figure; empty for what has none. */
export function valueWords(item, value, result, system) {
  if (result.valueSi === null || result.word === "not possible") return "";
  return shown(result.valueSi, judgedUnit(item, system));
}
