// Asks the server to put a card somewhere; the answer is the whole board with a sentence.
import { cardsOf, roundOf } from "./places.js";

export function say(words) {
  const live = document.getElementById("board-live");
  if (live) live.textContent = words;
}

/** The id of the card that was moved last, so that the keyboard goes on from it. */
export const last = { card: "" };

export function sendMove(card, where, place, show = "") {
  const board = document.getElementById("board");
  last.card = card.id;
  const values = {
    job: card.dataset.job,
    where,
    place,
    seen: board.dataset.seen,
    show: show || (board.dataset.show ?? ""),
    map_day: show || (document.getElementById("map")?.dataset.mapDay ?? ""),
  };
  board.setAttribute("aria-busy", "true");
  return window.htmx.ajax("POST", board.dataset.move, { target: "#board", swap: "outerHTML", values });
}

/** Sends a card from where it now stands on the page. */
export function sendFromHere(card) {
  const round = roundOf(card);
  const { where } = round.dataset;
  return sendMove(card, where, where === "off" ? "" : cardsOf(round).indexOf(card));
}
