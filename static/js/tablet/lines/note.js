// A note: kept as it is typed, saved when the field is left.

import { afterTouch, h } from "../dom.js";

export function noteControl(card) {
  const id = `text-${card.line.field}`;
  const field = h("textarea", { class: "form-control", id, rows: "3", maxlength: "2000", oninput: typed, onchange: () => afterTouch(save) });
  const button = h("button", { type: "button", class: "btn", onclick: save }, "Keep the note");
  const element = h("div", {}, h("label", { class: "unseen", for: id }, card.line.item.prompt), field, button);

  function typed() {
    card.keepDraft({ text: field.value });
  }

  function save() {
    const text = field.value.trim();
    if (text && text !== (card.value()?.text || "")) card.commit({ text });
  }

  return {
    element,
    show(value) {
      if (document.activeElement !== field && value) field.value = value.text || "";
      if (!value && document.activeElement !== field && !card.draft) field.value = "";
    },
    restore(draft) {
      field.value = draft.text || "";
    },
  };
}
