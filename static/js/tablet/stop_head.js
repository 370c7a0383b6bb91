// The top of a stop: the house, how to get in, whom to call; and what the office did with the visit meanwhile.

import { h } from "./dom.js";
import { clockTime, moment } from "./words.js";

const MOVED = {
  cancelled: "The office has cancelled this visit. What you enter is still kept and sent; call the office before you go on.",
  moved: "The office has moved this visit to another day. What you enter is still kept and sent; call the office before you go on.",
  reassigned: "The office has given this visit to somebody else. What you enter is still kept and sent; call the office before you go on.",
};

function fact(label, words, isWide = false) {
  return words ? h("div", { class: isWide ? "is-wide" : "" }, h("dt", {}, label), h("dd", {}, words)) : null;
}

/** When to be there: "8:00 AM to 10:00 AM", or any time. */
export function windowWords(visit) {
  return visit.window ? `${clockTime(visit.window[0])} to ${clockTime(visit.window[1])}` : "Any time";
}

/** What to carry: the office's words, and what an estimate says is due. */
export function carryWords(visit) {
  const due = (visit.estimates || []).filter((one) => one.due).map((one) => one.sentence);
  return [visit.carry, ...due].filter(Boolean);
}

/** Facts of the house and the buttons that lead there. */
export function houseFacts(visit) {
  const { house } = visit;
  const carry = carryWords(visit);
  return h(
    "div",
    { class: "house-facts" },
    h(
      "dl",
      { class: "facts" },
      fact("Address", house.address.join(", "), true),
      fact("Arrive", windowWords(visit)),
      fact("Takes", `${visit.minutes} min`),
      fact("Owner", house.owner?.name || "Not recorded"),
      fact("Access", house.access, true),
      carry.length ? fact("Carry", carry.map((words) => h("span", { class: "carry" }, words)), true) : null,
      visit.kind !== "checkup" ? fact("What for", visit.reason, true) : null,
    ),
    links(visit),
  );
}

/** Map and phone: they work where the tablet has them. */
export function links(visit) {
  const { house } = visit;
  const phone = (house.owner?.phone || "").replace(/[^\d+]/g, "");
  return h(
    "div",
    { class: "actions" },
    house.map ? h("a", { class: "btn", href: house.map }, "Map") : null,
    phone ? h("a", { class: "btn", href: `tel:${phone}`, "aria-label": `Call ${house.owner.phone}, ${house.owner.name}` }, `Call ${house.owner.phone}`) : null,
  );
}

/** What the office did with the visit, what was finished, what stands in conflict; keyed. */
export function stateNotes(place, sheet) {
  const notes = [];
  const note = (tone, words, more = {}, ...also) => notes.push([words, () => h("div", { class: `message ${tone}`, ...more }, h("p", {}, words, ...also))]);
  const state = place.state();
  if (MOVED[state]) note("is-watch", MOVED[state], { role: "status" });
  if (sheet.couldNot) note("is-watch", `Noted as not done: ${sheet.couldNot.value.because}`);
  if (state === "finished") {
    note("is-good", "Finished. The office has everything, and the report goes to the owner.");
  } else if (sheet.finish) {
    const at = moment(sheet.finish.at);
    const reopen = h("button", { type: "button", class: "btn", onclick: () => place.record("finish", "finish", null).then(place.refresh) }, "Correct something");
    const where = sheet.finish.receipt === "received" ? "The office has it and checks that everything is there." : "It goes to the office with the next signal.";
    note("is-good", `Finished at ${at}. ${where} `, {}, reopen);
  }
  if (sheet.conflicts.length) {
    const go = h("a", { href: `#/stop/${place.id}?line=${encodeURIComponent(sheet.conflicts[0])}` }, "Show it");
    const words = sheet.conflicts.length === 1 ? "One line has two answers. " : `${sheet.conflicts.length} lines have two answers. `;
    note("is-bad", words, {}, go);
  }
  return notes;
}
