// Findings: what is wrong or worth watching, how grave, what is to be done, and whether it was put right on the spot.

import { h } from "./dom.js";
import { mark } from "./marks.js";
import { numberOr, photoButton, photoList } from "./photos.js";
import { capital, day } from "./words.js";

const SEVERITIES = [
  ["watch", "Watch: look again next time"],
  ["bad", "Bad: needs a repair"],
  ["urgent", "Urgent: needs a repair now"],
];

/** The findings of a line, and the form for the one that its verdict asks for. */
export function findingsOf(line, place) {
  const shown = line.findings.map((finding) => findingCard(finding, place));
  if (!line.asksForFinding || place.isClosed()) return shown;
  return [...shown, findingForm(line, place)];
}

/** One finding: its words, its photos, and the field that puts it right. */
export function findingCard(finding, place) {
  const { id, value } = finding;
  const tone = value.done ? "is-good" : value.severity === "watch" ? "is-watch" : "is-bad";
  const photos = place.sheet().heads;
  const own = [...photos].filter(([field, events]) => field.startsWith("photo:") && events.at(-1).value.finding === id);
  const pictures = own.map(([field, events]) => ({ id: field.slice(6), value: events.at(-1).value, event: events.at(-1) }));
  const about = { item: value.item || "", component: numberOr(String(value.component || 0)), finding: id, caption: value.what };
  return h(
    "div",
    { class: `message finding ${tone}` },
    h(
      "p",
      {},
      h("strong", {}, `${capital(value.done ? "put right" : value.severity)}: `),
      value.what,
      value.done ? ` ${value.done_note}` : value.what_to_do ? ` ${value.what_to_do}` : "",
    ),
    finding.from ? h("p", { class: "soft" }, `Open since ${day(finding.from)}.`) : null,
    finding.event ? h("p", { class: "kept" }, finding.event.receipt === "received" ? mark("sent") : mark("kept")) : null,
    photoList(pictures, value.what, place),
    place.isClosed() ? null : photoButton("Photo of it", about, place, `Photo of it: ${value.what}`),
    value.done || place.isClosed() ? null : putRight(finding, place),
  );
}

function putRight({ id, value }, place) {
  const name = `done-${id}`;
  const field = h("input", { class: "form-control", id: name, maxlength: "500", autocomplete: "off" });
  const said = h("p", { class: "also is-wrong", role: "alert" });
  const keep = async () => {
    if (!field.value.trim()) {
      said.textContent = "Say in a few words what was done.";
      field.focus();
      return;
    }
    const { since, ...rest } = value;
    await place.keep("finding", `finding:${id}`, { ...rest, done: true, done_note: field.value.trim() }, said);
  };
  return h("div", { class: "put-right" }, h("label", { for: name }, "Put right on the spot: what was done?"), field, said, h("button", { type: "button", class: "btn", onclick: keep }, "It is put right"));
}

/** A new finding; prefilled from the verdict of its line, or empty for something found elsewhere. */
export function findingForm(line, place) {
  const key = line ? line.field : "loose";
  const what = h("textarea", { class: "form-control", id: `what-${key}`, rows: "2", maxlength: "1000" });
  const toDo = h("textarea", { class: "form-control", id: `todo-${key}`, rows: "2", maxlength: "1000" });
  const done = h("input", { class: "form-control", id: `repaired-${key}`, maxlength: "500", autocomplete: "off" });
  const said = h("p", { class: "also is-wrong", role: "alert" });
  const proposed = line?.verdict.severity || "watch";
  const severity = h("select", { class: "form-select", id: `severity-${key}` }, SEVERITIES.map(([code, words]) => h("option", { value: code, selected: code === proposed }, words)));
  severity.value = proposed;
  what.value = line?.verdict.sentence || "";
  toDo.value = line?.verdict.toDo || line?.item.what_to_do || "";

  async function keep() {
    if (!what.value.trim()) {
      said.textContent = "Say what you found.";
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
    await place.keep("finding", `finding:${crypto.randomUUID()}`, value, said);
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
