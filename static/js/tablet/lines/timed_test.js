// A timed test: a clock that runs on through reload and sleep, its seconds, and, in the pit, how far the water moved.

import { h, say } from "../dom.js";
import { nameOf } from "../verdicts.js";
import { stopwatch } from "../words.js";
import { unitsOf } from "./measure.js";
import { numberField } from "./number_field.js";

export function timedControl(card) {
  const { item, field } = card.line;
  const asksForWay = Boolean(item.formula);
  const { clocks } = card.place;
  const key = field.slice("answer:".length);
  const button = h("button", { type: "button", class: "btn clock-button", onclick: press });
  const seconds = numberField({ id: `seconds-${field}`, label: "Time taken", units: ["s"], typed, left: save });
  const way = asksForWay ? numberField({ id: `number-${field}`, label: wayWords(item), units: unitsOf(item), typed, left: save }) : null;
  const still = h("p", { class: "soft" });
  let busy = "";

  clocks.watch(key, nameOf(item), (elapsed) => {
    say(button, elapsed === null ? (seconds.text() ? "Start the clock again" : "Start the clock") : `Stop at ${stopwatch(elapsed)}`);
    button.classList.toggle("is-running", elapsed !== null);
  });

  async function press() {
    if (!clocks.isRunning(key)) {
      await clocks.start(key);
      return;
    }
    const stopped = await clocks.stop(key);
    seconds.set(stopped.seconds);
    typed();
    save();
    if (way && !way.text().trim()) way.input.focus();
  }

  function given() {
    const value = { seconds: seconds.text(), unit: way ? way.unit() : "s" };
    return way ? { ...value, number: way.text() } : value;
  }

  function typed() {
    card.keepDraft(given());
    const isWhole = seconds.text().trim() && (!way || way.text().trim());
    say(still, !isWhole && seconds.text().trim() ? "Now type how far the water moved." : "");
    card.preview(isWhole ? given() : card.value());
  }

  function save() {
    const time = seconds.text().trim() ? seconds.read() : null;
    const distance = way?.text().trim() ? way.read() : null;
    if (!time || (way && !distance)) return;
    const value = { seconds: time.number, ...(distance || {}) };
    const kept = card.value() || {};
    if (JSON.stringify(value) === busy) return;
    if (kept.seconds === value.seconds && kept.number === value.number && kept.unit === value.unit) return;
    busy = JSON.stringify(value);
    card.commit(value).finally(() => {
      busy = "";
    });
  }

  return {
    element: h("div", { class: "timed" }, button, seconds.element, way?.element, still),
    show(value) {
      const timed = card.line.timer?.state === "stopped" ? card.line.timer.seconds : "";
      if (value?.seconds) {
        seconds.set(value.seconds);
        way?.set(value.number, value.unit);
      } else if (timed && !seconds.text()) {
        seconds.set(timed);
      }
      say(still, way && seconds.text().trim() && !way.text().trim() ? "Now type how far the water moved." : "");
    },
    restore(draft) {
      if (draft.seconds) seconds.set(draft.seconds);
      if (draft.number) way?.set(draft.number, draft.unit);
    },
  };
}

function wayWords(item) {
  return item.formula === "pit_rise_inflow" ? "Rise of the water" : "Fall of the water";
}
