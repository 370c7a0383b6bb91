// A visit that could not be done: why, in a touch or in own words.

import { fill, h, sayWrong } from "./dom.js";
import { noSuchStop } from "./page_stop.js";
import { openVisit } from "./visit_desk.js";

const REASONS = ["Nobody was home to let me in", "The way was blocked or unsafe", "Too little time left today", "A tool or part was missing"];

export async function couldNotPage(store, { visit: id }) {
  const place = await openVisit(store, id);
  if (!place) return noSuchStop();
  const said = h("p", { class: "also", role: "alert" });
  const field = h("textarea", { class: "form-control", id: "because", rows: "3", maxlength: "500", oninput: () => place.draft("could_not", { because: field.value }) });
  field.value = place.drafts.get("could_not")?.because || "";

  async function keep() {
    if (!field.value.trim()) {
      sayWrong(said, "Say in a few words why it could not be done.");
      field.focus();
      return;
    }
    if (!(await place.keep("could_not", "could_not", { because: field.value.trim() }, said))) return;
    place.draft("could_not", null);
    location.hash = "#/";
  }

  const chips = REASONS.map((words) =>
    h("button", { type: "button", class: "btn", onclick: () => {
      field.value = words;
      place.draft("could_not", { because: words });
      fill(said);
    } }, words),
  );
  const { visit } = place.sheet();
  return {
    title: visit.house.address[0],
    actions: [h("a", { class: "btn", href: "#/" }, "Round")],
    element: h(
      "div",
      {},
      h("h1", { tabindex: "-1" }, "Could not be done"),
      h("p", {}, `${visit.kind_word} at ${visit.house.address.join(", ")}. The office finds another day.`),
      h("label", { class: "field-label", for: "because" }, "Why could it not be done?"),
      h("div", { class: "chips" }, chips),
      field,
      said,
    ),
    bottom: [h("div", { class: "bottom-bar" }, h("div", { class: "bottom-bar-inner" }, h("button", { type: "button", class: "btn btn-primary", onclick: keep }, "Note it")))],
  };
}
