// Dragging with the mouse. A line shows where the card would come to stand.
import { cardsOf, stopsOf } from "./places.js";
import { sendMove } from "./send.js";

let carried = null;
const line = document.createElement("li");
line.className = "drop-line";
line.setAttribute("aria-hidden", "true");

function placeAt(round, y) {
  const others = cardsOf(round).filter((card) => card !== carried);
  const below = others.findIndex((card) => {
    const box = card.getBoundingClientRect();
    return y < box.top + box.height / 2;
  });
  return { others, place: below < 0 ? others.length : below };
}

const target = (event) => event.target.closest?.("[data-round], [data-day-drop]");

/** Whether a card gets a place among stops there; beside the sheet and on a day of the month it has none. */
const stands = (round) => round.dataset.where !== "off" && !("dayDrop" in round.dataset);

function mark(day) {
  document.querySelector("[data-day-drop].is-over")?.classList.remove("is-over");
  day?.classList.add("is-over");
}

function over(event) {
  const round = target(event);
  if (!carried || !round) return;
  event.preventDefault();
  event.dataTransfer.dropEffect = "move";
  mark("dayDrop" in round.dataset ? round : null);
  if (!stands(round)) {
    line.remove();
    return;
  }
  const { others, place } = placeAt(round, event.clientY);
  stopsOf(round).insertBefore(line, others[place] ?? null);
}

function dropped(event) {
  const round = target(event);
  if (!carried || !round) return;
  event.preventDefault();
  const place = stands(round) ? placeAt(round, event.clientY).place : "";
  const card = carried;
  ended();
  sendMove(card, round.dataset.where, place);
}

function ended() {
  carried?.classList.remove("is-carried");
  carried = null;
  line.remove();
  mark(null);
}

export function listenToDragging(page) {
  page.addEventListener("dragstart", (event) => {
    const card = event.target.closest?.('[data-card][draggable="true"]');
    if (!card) return;
    carried = card;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", card.dataset.name);
    card.classList.add("is-carried");
  });
  page.addEventListener("dragover", over);
  page.addEventListener("drop", dropped);
  page.addEventListener("dragend", ended);
}
