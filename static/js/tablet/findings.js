// Findings: what is wrong or worth watching, how grave, what is to be done, and whether it was put right on the spot.

import { arrange, h, sayWrong } from "./dom.js";
import { mark } from "./marks.js";
import { nameButton, newList, numberOr, photoButton, showPhotos } from "./photos.js";
import { capital, day } from "./words.js";

const SEVERITIES = [
  ["watch", "Watch: look again next time"],
  ["bad", "Bad: needs a repair"],
  ["urgent", "Urgent: needs a repair now"],
];

/** The findings of a line, and the form for the one that its verdict asks for; keyed. */
export function findingsOf(line, place) {
  const { word, severity } = line.verdict || {};
  const form = () => findingForm(line, place);
  return [...findingCards(line.findings, place), line.asksForFinding && !place.isClosed() ? [`write down ${word} ${severity}`, form] : null];
}

/** A card for each finding, keyed: its words, its photos, and the field that puts it right. */
export function findingCards(findings, place) {
  const heads = [...place.sheet().heads];
  return findings.map((finding) => [`finding ${finding.id}`, () => h("div", {}), (card) => showFinding(card, finding, heads, place)]);
}

function showFinding(card, { id, value, event, from }, heads, place) {
  const tone = value.done ? "is-good" : value.severity === "watch" ? "is-watch" : "is-bad";
  card.className = `message finding ${tone}`;
  const own = heads.filter(([field, events]) => field.startsWith("photo:") && events.at(-1).value.finding === id);
  const photos = own.map(([field, events]) => ({ id: field.slice(6), value: events.at(-1).value, event: events.at(-1) }));
  const about = { item: value.item || "", component: numberOr(String(value.component || 0)), finding: id, caption: value.what };
  const then = value.done ? ` ${value.done_note}` : value.what_to_do ? ` ${value.what_to_do}` : "";
  const said = () => h("p", {}, h("strong", {}, `${capital(value.done ? "put right" : value.severity)}: `), value.what, then);
  const where = event?.receipt === "received" ? "sent" : "kept";
  const isOpen = !place.isClosed();
  arrange(card, [
    [`said ${event?.id}`, said],
    from ? ["from", () => h("p", { class: "soft" }, `Open since ${day(from)}.`)] : null,
    event ? [where, () => h("p", { class: "kept" }, mark(where))] : null,
    ["photos", newList, (list) => showPhotos(list, photos, value.what, place)],
    isOpen ? ["camera", () => photoButton(about, place), (button) => nameButton(button, "Photo of it", `Photo of it: ${value.what}`)] : null,
    isOpen && !value.done ? ["put right", () => putRight({ id, value }, place)] : null,
  ]);
}

function putRight({ id, value }, place) {
  const name = `done-${id}`;
  const field = h("input", { class: "form-control", id: name, maxlength: "500", autocomplete: "off", oninput: () => place.draft(name, { done: field.value }) });
  field.value = place.drafts.get(name)?.done || "";
  const said = h("p", { class: "also", role: "alert" });
  const keep = async () => {
    if (!field.value.trim()) {
      sayWrong(said, "Say in a few words what was done.");
      field.focus();
      return;
    }
    const { since, ...rest } = value;
    if (await place.keep("finding", `finding:${id}`, { ...rest, done: true, done_note: field.value.trim() }, said)) place.draft(name, null);
  };
  return h("div", { class: "put-right" }, h("label", { for: name }, "Put right on the spot: what was done?"), field, said, h("button", { type: "button", class: "btn", onclick: keep }, "It is put right"));
}

/** A new finding; prefilled from the verdict of its line, or empty for something found elsewhere. */
export function findingForm(line, place) {
  const key = line ? line.field : "loose";
  const draft = `new finding ${key}`;
  const typed = () => place.draft(draft, { what: what.value, toDo: toDo.value, done: done.value, severity: severity.value });
  const what = h("textarea", { class: "form-control", id: `what-${key}`, rows: "2", maxlength: "1000", oninput: typed });
  const toDo = h("textarea", { class: "form-control", id: `todo-${key}`, rows: "2", maxlength: "1000", oninput: typed });
  const done = h("input", { class: "form-control", id: `repaired-${key}`, maxlength: "500", autocomplete: "off", oninput: typed });
  const said = h("p", { class: "also", role: "alert" });
  const proposed = line?.verdict.severity || "watch";
  const severity = h("select", { class: "form-select", id: `severity-${key}`, onchange: typed }, SEVERITIES.map(([code, words]) => h("option", { value: code, selected: code === proposed }, words)));
  fillIn();

  /** What was typed before, or what the verdict proposes. */
  function fillIn() {
    const kept = place.drafts.get(draft) || {};
    severity.value = kept.severity || proposed;
    what.value = kept.what ?? line?.verdict.sentence ?? "";
    toDo.value = kept.toDo ?? line?.verdict.toDo ?? "";
    done.value = kept.done || "";
  }

  async function keep() {
    if (!what.value.trim()) {
      sayWrong(said, "Say what you found.");
      what.focus();
      return;
    }
    const value = {
      severity: severity.value,
      what: what.value.trim(),
      what_to_do: toDo.value.trim(),
      item: line?.item.code || "",
      component: numberOr(line?.component || "0"),
      done: Boolean(done.value.trim()),
      done_note: done.value.trim(),
    };
    if (!(await place.keep("finding", `finding:${crypto.randomUUID()}`, value, said))) return;
    place.draft(draft, null);
    fillIn();
  }

  return h(
    "div",
    { class: "finding-draft" },
    h("p", {}, h("strong", {}, "Write it down for the owner")),
    line?.item.consequence ? h("p", { class: "soft" }, line.item.consequence) : null,
    h("label", { for: what.id }, "What did you find?"),
    what,
    h("label", { for: toDo.id }, "What is to be done?"),
    toDo,
    h("label", { for: severity.id }, "How grave is it?"),
    severity,
    h("label", { for: done.id }, "Put right on the spot? Say what was done (or leave empty)"),
    done,
    said,
    h("button", { type: "button", class: "btn", onclick: keep }, "Write it down"),
  );
}
