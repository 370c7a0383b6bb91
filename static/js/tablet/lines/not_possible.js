// Why something could not be checked: a few reasons to touch, or own words. Saved only with a reason.

import { h } from "../dom.js";

const REASONS = ["Could not get to it", "Not safe today", "Not fitted here", "No water to test with"];

/** `withButton`: kinds other than a check open it by a button of their own. */
export function notPossible(card, withButton) {
  const id = `because-${card.line.field}`;
  const field = h("input", { class: "form-control", id, maxlength: "500", autocomplete: "off", onkeydown: entered });
  const form = h("div", { class: "because-box", hidden: true });
  const opener = h("button", { type: "button", class: "btn btn-quiet not-possible-button", "aria-expanded": "false", onclick: toggle }, "Not possible");
  const element = h("div", {}, withButton ? opener : null, form);

  function entered(event) {
    if (event.key !== "Enter") return;
    event.preventDefault();
    give(field.value);
  }

  // Made when it is first asked for: nearly no card ever asks.
  function make() {
    const chips = REASONS.map((words) => h("button", { type: "button", class: "btn", onclick: () => give(words) }, words));
    const keep = h("button", { type: "button", class: "btn", onclick: () => give(field.value) }, "Keep the reason");
    form.append(h("label", { for: id }, "Why is it not possible?"), h("div", { class: "chips" }, chips), h("div", { class: "because-row" }, field, keep));
  }

  function setOpen(isOpen) {
    if (isOpen && !form.childElementCount) make();
    form.hidden = !isOpen;
    opener.setAttribute("aria-expanded", String(isOpen));
  }

  function toggle() {
    if (form.hidden) ask();
    else setOpen(false);
  }

  function ask() {
    setOpen(true);
    field.focus();
  }

  function give(words) {
    if (!words.trim()) {
      field.setAttribute("aria-invalid", "true");
      field.focus();
      return;
    }
    field.removeAttribute("aria-invalid");
    card.commit({ condition: "not_possible", because: words.trim() });
  }

  function show(value) {
    const isSaid = value?.condition === "not_possible";
    if (isSaid && document.activeElement !== field) field.value = value.because || "";
    setOpen(isSaid || (!form.hidden && document.activeElement === field));
  }
  return { element, ask, close: () => setOpen(false), show };
}
