// A check: good, watch, bad or not possible. A touch saves; "not possible" asks why first.

import { h } from "../dom.js";
import { mark } from "../marks.js";

const CHOICES = ["good", "watch", "bad", "not_possible"];

export function checkControl(card) {
  const buttons = CHOICES.map((code) =>
    h("button", { type: "button", class: "choice-button", "data-choice": code, "aria-pressed": "false", onclick: () => choose(code) }, mark(code)),
  );
  const element = h("div", { class: "choices", role: "group", "aria-label": card.line.item.prompt }, buttons);
  const control = { element, show, reason: null };

  function choose(code) {
    if (card.value()?.condition === code && code !== "not_possible") return;
    press(code);
    if (code === "not_possible") {
      control.reason.ask();
      return;
    }
    control.reason.close();
    card.commit({ condition: code });
  }

  function press(code) {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.choice === code));
  }

  function show(value) {
    press(value?.condition || "");
  }
  return control;
}
