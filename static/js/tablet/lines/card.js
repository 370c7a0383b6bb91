// One line of the check-up as a card: what is asked, its caution, the control of its kind, the verdict, what is kept.

import { afterFrame, announce, arrange, fill, h } from "../dom.js";
import { conflictCard } from "../conflict.js";
import { findingsOf } from "../findings.js";
import { mark } from "../marks.js";
import { photosOf } from "../photos.js";
import { isSeen, readingOf } from "../sheet.js";
import { capital, moment } from "../words.js";
import { checkControl } from "./check.js";
import { counterWords, lastWords, limitsWords, valueWords } from "./figures.js";
import { measureControl } from "./measure.js";
import { noteControl } from "./note.js";
import { notPossible } from "./not_possible.js";
import { timedControl } from "./timed_test.js";

const CONTROLS = {
  check: checkControl,
  measurement: measureControl,
  count: measureControl,
  timed_test: timedControl,
  note: noteControl,
};

/** The card of a line: {element, update(line)}. `place` is what the page gives every card: see page_stop.js. */
export function lineCard(first, place) {
  let line = first;
  let seen = "";
  let trouble = null;
  let saving = null;
  let trial = null;
  // What the card looks like at the moment: the same once more leaves the page as it is laid out.
  let tone = "";
  let judged = "[]";
  const { item } = line;
  const draft = place.drafts.get(line.field);
  const verdict = h("div", { class: "verdict" });
  const evidence = h("div", {});
  const kept = h("p", { class: "kept" });
  const clash = h("div", {});
  const before = h("p", { class: "item-before" });

  async function commit(value) {
    const turn = Symbol("a save");
    saving = turn;
    arrange(kept, [["saving", () => h("span", { class: "soft" }, "Saving…")], takeBack()]);
    // The touch is answered by now; what follows of it comes when that is seen.
    afterFrame(() => saving === turn && show(readingVerdict(value), value));
    try {
      await place.record("answer", line.field, value);
      trouble = null;
      place.draft(line.field, null);
      announce(value ? "Saved on this tablet." : "Taken back.");
    } catch (problem) {
      trouble = { value, words: problem.message };
      announce("Not saved.");
    }
    // A later touch of the same card has the last word on what is shown.
    if (saving !== turn) return;
    saving = null;
    seen = "";
    await place.refresh();
  }

  const readingVerdict = (value) => place.verdictWith(line, value && readingOf(value, item, line.photos.filter(isSeen).length));
  const card = {
    get line() {
      return line;
    },
    value: () => line.answer?.value || null,
    draft,
    keepDraft: (typed) => place.draft(line.field, typed),
    commit,
    preview,
    showBefore,
    place,
  };
  /** Judges what is being typed, when the key is seen. */
  function preview(value) {
    const turn = Symbol("a key");
    trial = turn;
    afterFrame(() => trial === turn && !saving && show(readingVerdict(value), value));
  }

  showBefore("");
  const control = CONTROLS[item.kind]?.(card) || null;
  const reason = notPossible(card, item.kind !== "check");
  if (control) control.reason = reason;

  /** The limits and last time's value, in the unit of the gauge in hand. */
  function showBefore(gauge) {
    const limits = limitsWords(item, place.system, gauge);
    const last = lastWords(line, place.system, gauge);
    fill(before, limits && h("span", {}, `Good: ${limits}`), last && h("span", {}, `Last time: ${last}`));
    before.hidden = !limits && !last;
  }

  function show(result, value) {
    const state = result ? result.word.replace(" ", "_") : "";
    const toned = state && `is-${state === "good" || state === "not_possible" ? "done" : state}`;
    if (toned !== tone) {
      if (tone) element.classList.remove(tone);
      if (toned) element.classList.add(toned);
      tone = toned;
    }
    control?.show(value);
    reason.show(value);
    const figure = result ? valueWords(item, value, result, place.system) : "";
    const speaks = result && item.kind !== "note" && item.kind !== "photo";
    const verdictSays = speaks && (item.kind !== "check" || state !== "good") ? result.sentence : "";
    const sentence = [verdictSays, speaks && counterWords(line, result.valueSi)].filter(Boolean).join(" ");
    const words = JSON.stringify(speaks ? [state, figure, sentence] : []);
    if (words !== judged) fill(verdict, speaks ? [mark(state), figure && h("strong", {}, figure), h("span", {}, sentence)] : []);
    judged = words;
  }

  /** Stays the same button for as long as the line is answered: a finger may be on it while an answer is sent. */
  function takeBack() {
    if (!line.answer || place.isClosed()) return null;
    const label = `Take back the answer to “${item.prompt}”`;
    return ["back", () => h("button", { type: "button", class: "btn btn-quiet", "aria-label": label, onclick: () => commit(null) }, "Take back")];
  }

  function showKept() {
    const { answer } = line;
    if (trouble) {
      const again = () => h("button", { type: "button", class: "btn", onclick: () => commit(trouble.value) }, "Save once more");
      const words = `${trouble.words} What you entered stays here.`;
      arrange(kept, [["not saved", () => mark("bad", "not saved")], [words, () => h("span", {}, words)], ["again", again]]);
      return;
    }
    const where = answer?.receipt === "received" ? "sent" : "kept";
    arrange(kept, answer ? [[where, () => mark(where)], [answer.at, () => h("span", { class: "soft" }, moment(answer.at))], takeBack()] : []);
  }

  /** Takes in what is known of the line now; whether anything of it changed. */
  function update(next) {
    line = next;
    const now = JSON.stringify([
      line.events.map((event) => [event.id, event.receipt]),
      line.verdict,
      line.photos.map((photo) => [photo.id, photo.event.receipt]),
      line.findings.map((finding) => [finding.event.id, finding.event.receipt]),
      line.timer,
      place.isClosed(),
    ]);
    if (now === seen || saving) return false;
    seen = now;
    if (trouble) show(readingVerdict(trouble.value), trouble.value);
    else show(line.verdict, card.value());
    showKept();
    arrange(evidence, [...photosOf(line, place), ...findingsOf(line, place)]);
    const sides = line.events.map((event) => event.id).join(" ");
    arrange(clash, line.isConflict ? [[`${sides} ${place.isClosed()}`, () => conflictCard(line.events, place, (event) => commit(event.value), (value) => saidOf(value, item))]] : []);
    element.toggleAttribute("data-closed", place.isClosed());
    for (const one of element.querySelectorAll(".control button, .control input, .control textarea, .control select")) {
      one.disabled = place.isClosed();
    }
    return true;
  }

  const element = h(
    "article",
    { class: "item line", id: line.field, "data-kind": item.kind, "aria-label": line.part ? `${item.prompt} (${line.part})` : item.prompt },
    h("div", { class: "item-head" }, h("h4", {}, item.prompt), item.required ? null : h("span", { class: "item-part" }, "if you can")),
    item.caution && h("div", { class: "caution", role: "note" }, h("p", {}, h("strong", {}, "Caution."), ` ${item.caution}`)),
    item.how && h("p", { class: "how" }, item.how),
    before,
    clash,
    control && h("div", { class: "control" }, control.element),
    h("div", { class: "control" }, reason.element),
    verdict,
    kept,
    evidence,
  );
  update(line);
  if (draft) control?.restore?.(draft);
  return { element, update };
}

/** An answer in a few words, for the card of a conflict. */
export function saidOf(value, item) {
  if (!value) return "taken back";
  if (value.condition === "not_possible") return `not possible: ${value.because || ""}`;
  const number = value.number ? `${value.number} ${value.unit || ""}` : "";
  const time = value.seconds ? `${value.seconds} s` : "";
  return capital([value.condition, number, time, value.text].filter(Boolean).join(", ") || item.prompt);
}
