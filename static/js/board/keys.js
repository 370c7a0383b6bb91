// Carrying a card with the keyboard: picked up, moved with the arrows, put down, or put back with Escape.
import { beneath, besides, cardsOf, inWords, roundOf, stopsOf, waiting } from "./places.js";
import { say, sendFromHere, sendMove } from "./send.js";

let held = null; // { card, list, next }: the card in hand and where it came from
const WEEKS = { PageUp: -7, PageDown: 7 };
const ARROWS = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

function pickUp(card) {
  held = { card, list: card.parentElement, next: card.nextElementSibling };
  card.classList.add("is-carried");
  say(`Picked up. ${inWords(card)} Arrow keys move it, Enter puts it down, Escape puts it back.`);
}

function letGo() {
  held?.card.classList.remove("is-carried");
  held = null;
}

function putBack() {
  const { card, list, next } = held;
  list.insertBefore(card, next);
  letGo();
  card.querySelector("[data-grip]").focus();
  say(`Put back. ${inWords(card)}`);
}

function putDown() {
  const { card, list, next } = held;
  const moved = card.parentElement !== list || card.nextElementSibling !== next;
  letGo();
  if (moved) sendFromHere(card);
  else say(`Put down where it was. ${inWords(card)}`);
}

function into(round, place) {
  const { card } = held;
  const others = cardsOf(round).filter((one) => one !== card);
  stopsOf(round).insertBefore(card, others[Math.max(0, Math.min(place, others.length))] ?? null);
}

function carry([sideways, down]) {
  const { card } = held;
  const round = roundOf(card);
  const cards = cardsOf(round);
  const place = cards.indexOf(card);
  if (sideways) {
    const there = besides(round, sideways);
    if (there) into(there, place);
  } else if (round !== waiting()) {
    const inside = place + down;
    const there = inside < 0 || inside >= cards.length ? beneath(round, down) : null;
    if (there) into(there, down > 0 ? 0 : cardsOf(there).length);
    else if (inside >= 0 && inside < cards.length) into(round, inside);
  }
  card.querySelector("[data-grip]").focus();
  card.scrollIntoView({ block: "nearest", inline: "nearest" });
  say(inWords(card));
}

/** Carries the card into another week: with the same technician, where it costs least driving that day. */
function carryWeeks(days) {
  const { card } = held;
  const board = document.getElementById("board");
  const [technician, day] = roundOf(card).dataset.where.split("/");
  if (!board.dataset.show || !day) return say("Put it on a day of this week first, or choose a day on its own page.");
  const there = new Date(`${day}T12:00:00Z`);
  there.setUTCDate(there.getUTCDate() + days);
  const wanted = there.toISOString().slice(0, 10);
  if (wanted < board.dataset.first || wanted > board.dataset.last) return say("This draft has no week there.");
  letGo();
  return sendMove(card, `${technician}/${wanted}`, "", wanted);
}

function pressed(event) {
  const grip = event.target.closest?.("[data-grip]");
  if (!grip || grip.tagName !== "BUTTON") return;
  const isPress = event.key === "Enter" || event.key === " ";
  if (isPress && held) putDown();
  else if (isPress) pickUp(grip.closest("[data-card]"));
  else if (held && event.key === "Escape") putBack();
  else if (held && event.key in ARROWS) carry(ARROWS[event.key]);
  else if (held && event.key in WEEKS) carryWeeks(WEEKS[event.key]);
  else return;
  event.preventDefault();
}

function undone(event) {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
  if (event.target.closest("input, textarea, select")) return;
  const button = document.getElementById(event.shiftKey ? "redo" : "undo");
  if (!button || button.disabled) return;
  event.preventDefault();
  button.click();
}

export function listenToKeys(page) {
  page.addEventListener("keydown", pressed);
  page.addEventListener("keydown", undone);
  // A card in hand is put back when the focus goes elsewhere; moving it in the page takes the focus for a moment.
  page.addEventListener("focusin", (event) => {
    if (held && !held.card.contains(event.target)) {
      const { card, list, next } = held;
      list.insertBefore(card, next);
      letGo();
      say(`Put back. ${inWords(card)}`);
    }
  });
}
