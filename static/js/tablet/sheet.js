// Lays the events of one visit over its pack: lines, readings, verdicts, photos, findings, what is missing.
// Pure: what the store holds goes in, what a page shows comes out.

import { judge, missingOf, asksForFinding, conditionOf } from "./outcomes.js";
import { placeSwaps } from "./swapped_parts.js";
import { parse } from "./units_parse.js";
import { NOT_POSSIBLE } from "./verdicts.js";

/** What the owner signs: everything said at the visit but clocks and the signature itself. */
const SIGNED_KINDS = ["answer", "photo", "finding", "swap", "note", "could_not"];

/** The event that stands for a field: the only head, or of several the one by this person, else the latest. */
export function standing(events, personId) {
  if (!events?.length) return null;
  const own = events.filter((event) => event.actor === personId);
  return (own.length ? own : events).at(-1);
}

/** A number as typed, in its base unit; null when it cannot be read. */
export function numberSi(text, unit) {
  if (!text) return null;
  try {
    return parse(String(text), unit).si;
  } catch {
    return null;
  }
}

/** Whether a picture could be decoded here: only then it counts as a line's photo. */
export function isSeen({ value }) {
  return value.width !== 0;
}

/** What a kept answer says, as the rules read it. */
export function readingOf(value, item, photos) {
  if (!value) return photos ? { photos } : null;
  return {
    condition: value.condition === "not_possible" ? NOT_POSSIBLE : value.condition || "",
    numberSi: numberSi(value.number, value.unit || item.unit),
    seconds: numberSi(value.seconds, "s"),
    text: value.text || "",
    because: value.because || "",
    photos,
    noPhotoBecause: value.because || "",
  };
}

/** Everything that the pages of a visit show. `known` is what the store gave: {visit, heads}. */
export function sheetOf(pack, known) {
  const { visit, heads } = known;
  const person = pack.person.id;
  const items = pack.checklists[visit.checklist]?.items || {};
  const living = livingHeads(heads);
  const value = (field) => standing(living.get(field), person)?.value ?? null;
  const photos = valuesOf(living, "photo:", person);
  const findings = valuesOf(living, "finding:", person);
  const { parts, lines: placed } = placeSwaps(visit, items, pack.models, valuesOf(living, "swap:", person));
  const lines = placed.map((line) => {
    const own = (one) => one.value.item === line.item.code && sameComponent(one.value.component, line.component);
    const taken = photos.filter(own);
    const answer = standing(living.get(line.field), person);
    return {
      ...line,
      answer,
      events: heads.get(line.field) || [],
      isConflict: isConflict(heads.get(line.field)),
      part: partWords(line, placed, parts),
      photos: taken,
      findings: findings.filter(own),
      timer: value(`timer:${line.field.slice("answer:".length)}`),
      reading: readingOf(answer?.value, line.item, taken.filter(isSeen).length),
    };
  });
  judge(lines, parts.filter((part) => part.kind === "pit").map((part) => String(part.id)), pack.company.units);
  for (const line of lines) {
    line.missing = missingOf(line);
    line.asksForFinding = asksForFinding(line);
    line.state = line.verdict ? line.verdict.word.replace(" ", "_") : "";
  }
  const earlier = (visit.findings || []).map((one) => ({ id: String(one.id), value: one, from: one.since }));
  return {
    visit,
    lines,
    steps: stepsOf(lines),
    parts: parts.map((part) => withCondition(part, lines, [...findings, ...earlier])),
    findings,
    earlier: earlier.filter((one) => !findings.some((own) => own.id === one.id)),
    loose: findings.filter((one) => !lines.some((line) => line.findings.includes(one))),
    conflicts: [...heads].filter(([, events]) => isConflict(events)).map(([field]) => field),
    answered: lines.filter((line) => line.verdict).length,
    missing: lines.filter((line) => line.missing),
    summary: value("summary")?.text || "",
    signature: standing(living.get("signature"), person),
    finish: standing(living.get("finish"), person),
    couldNot: standing(living.get("could_not"), person),
    begun: living.has("begun"),
    heads: living,
    all: heads,
  };
}

/** Heads without those that took something back, field by field; a field with none left is not there. */
function livingHeads(heads) {
  const living = new Map();
  for (const [field, events] of heads) {
    const kept = events.filter((event) => event.value !== null);
    if (kept.length) living.set(field, kept);
  }
  return living;
}

/** Whether two heads of a field say different things; two that agree are none. */
function isConflict(events = []) {
  return new Set(events.map((event) => JSON.stringify(event.value))).size > 1;
}

/** How a line's part is called where its item is asked of several: by its label; nothing where it is alone. */
function partWords(line, placed, parts) {
  const asked = placed.filter((one) => one.item === line.item).length;
  const part = parts.find((one) => one.id === line.component);
  if (!part) return "";
  return asked > 1 ? [part.word, part.serial || part.place].filter(Boolean).join(" ") : "";
}

function valuesOf(living, prefix, person) {
  const found = [];
  for (const [field, events] of living) {
    if (!field.startsWith(prefix)) continue;
    const event = standing(events, person);
    found.push({ id: field.slice(prefix.length), value: event.value, event });
  }
  return found.sort((one, other) => (one.event.id < other.event.id ? -1 : 1));
}

export function sameComponent(one, other) {
  return String(one || 0) === String(other || 0);
}

function stepsOf(lines) {
  const steps = [];
  for (const line of lines) {
    if (steps.at(-1)?.code !== line.item.step) {
      steps.push({ code: line.item.step, word: line.item.step_word, groups: [], lines: [] });
    }
    const step = steps.at(-1);
    if (step.groups.at(-1)?.component !== line.component) step.groups.push({ component: line.component, lines: [] });
    step.groups.at(-1).lines.push(line);
    step.lines.push(line);
  }
  return steps;
}

/** A part with how it stands now, or stood at the last check-up while nothing of it was judged. */
function withCondition(part, lines, findings) {
  const own = lines.filter((line) => sameComponent(line.component, part.id));
  const written = findings.filter((one) => sameComponent(one.value.component, part.id));
  const now = conditionOf(own, written);
  const judged = own.filter((line) => line.verdict).length;
  return { ...part, now: now === "unknown" ? part.condition || "unknown" : now, judged, asked: own.length };
}

/** Ids of the heads that a signature is over, sorted. */
export function signedHeads(sheet) {
  return headIds(sheet, (event) => SIGNED_KINDS.includes(event.kind));
}

/** Ids of every head of the visit that `isWanted`, those that take something back among them, sorted. */
export function headIds(sheet, isWanted) {
  return [...sheet.all.values()].flat().filter(isWanted).map((event) => event.id).sort();
}

/** Whether something was changed after the owner signed. Where nobody was home, nobody saw an earlier state. */
export function isSignatureStale(sheet) {
  const value = sheet.signature?.value;
  if (!value || value.kind === "nobody_home") return false;
  return JSON.stringify(value.signed) !== JSON.stringify(signedHeads(sheet));
}
