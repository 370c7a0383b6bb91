// A measurement or a count: typed as the gauge shows it, judged while it is typed, saved when the field is left.

import { h } from "../dom.js";
import { nameOf } from "../verdicts.js";
import { numberField } from "./number_field.js";

/** The units a line may be typed in: the company's first. */
export function unitsOf(item) {
  return [item.unit || "count", ...(item.other_unit && item.other_unit !== item.unit ? [item.other_unit] : [])];
}

export function measureControl(card) {
  const { item, field } = card.line;
  const number = numberField({ id: `number-${field}`, label: nameOf(item), units: unitsOf(item), typed, left: save, chosen: card.showBefore });
  let last = "";

  function typed(text) {
    card.keepDraft({ number: text, unit: number.unit() });
    card.preview(text.trim() ? { number: text, unit: number.unit() } : card.value());
  }

  function save() {
    const given = number.read();
    if (!given) return;
    const now = JSON.stringify(given);
    const kept = card.value();
    if (now === last || (kept && kept.number === given.number && kept.unit === given.unit)) return;
    last = now;
    card.commit(given).finally(() => {
      last = "";
    });
  }

  return {
    element: h("div", {}, number.element),
    show(value) {
      if (value?.number !== undefined) number.set(value.number, value.unit);
      else if (!card.draft) number.set("");
    },
    restore: (draft) => number.set(draft.number, draft.unit),
  };
}
