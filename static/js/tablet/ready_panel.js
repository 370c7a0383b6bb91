// The ready check of the morning: made by itself once a day, in one line when all is well, in full when not.

import { afterTouch, fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { hour, today } from "./words.js";

// The day of the tablet itself: the check is about the tablet.
const zone = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

const KEPT = "ready check";

/** Rows of a ready check: mark, and the sentence that says what is and what to do. */
export function readyRows(checks) {
  return h("ul", { class: "checks" }, checks.map((one) => h("li", {}, mark(one.ok ? "good" : "bad", one.ok ? "in order" : "look here"), h("span", {}, one.sentence))));
}

export function readyPanel(store) {
  const element = h("section", { class: "ready", "aria-label": "Ready check" });
  let isLeft = false;

  async function check() {
    fill(element, h("p", { class: "soft" }, "Checking this tablet…"));
    const checks = await store.ready();
    if (isLeft) return;
    const failed = checks.filter((one) => !one.ok);
    const at = Date.now();
    remember({ day: today(zone()), at, failed: failed.length });
    // The panel may grow, and what is below it would slip away from under a finger.
    afterTouch(() => show(failed, at));
  }

  function show(failed, at) {
    const again = h("button", { type: "button", class: "btn btn-quiet", onclick: check }, "Check again");
    if (!failed.length) {
      fill(element, h("p", { class: "ready-line" }, mark("good", "This tablet is ready"), h("span", { class: "soft" }, `checked ${hour(at)}`), again));
      return;
    }
    const words = failed.length === 1 ? "One thing to look at before you drive." : `${failed.length} things to look at before you drive.`;
    fill(element, h("div", { class: "message is-watch" }, h("div", {}, h("p", {}, h("strong", {}, words)), readyRows(failed), again)));
  }

  const last = remembered();
  if (last?.day === today(zone()) && !last.failed) show([], last.at);
  else check().catch(() => fill(element));
  return {
    element,
    leave() {
      isLeft = true;
    },
  };
}

function remember(value) {
  try {
    localStorage.setItem(KEPT, JSON.stringify(value));
  } catch {
    // storage refused: it is checked again at the next look
  }
}

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(KEPT));
  } catch {
    return null;
  }
}
