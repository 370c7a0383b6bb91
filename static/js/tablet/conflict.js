// Two answers to one line that did not know of each other: both values, who, when, and the choice between them.

import { h } from "./dom.js";
import { moment } from "./words.js";

/** A card with every value; `choose(event)` keeps one of them, `said(value)` puts a value into words. */
export function conflictCard(events, place, choose, said) {
  return h(
    "div",
    { class: "message is-bad conflict", role: "group", "aria-label": "Two answers" },
    h("p", {}, h("strong", {}, "Two answers. "), "Neither knew of the other. Keep the one that is right, or answer once more."),
    h(
      "ul",
      { class: "conflict-values" },
      events.map((event) =>
        h(
          "li",
          {},
          h("span", {}, h("strong", {}, said(event.value)), h("small", {}, `${place.nameOf(event)}, ${moment(event.at)}`)),
          place.isClosed() ? null : h("button", { type: "button", class: "btn", onclick: () => choose(event) }, "Keep this one"),
        ),
      ),
    ),
  );
}
