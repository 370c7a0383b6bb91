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

function over(event) {
  const round = event.target.closest?.("[data-round]");
  if (!carried || !round) return;
  event.preventDefault();
  event.dataTransfer.dropEffect = "move";
  if (round.dataset.where === "off") {
    line.remove();
    return;
  }
  const { others, place } = placeAt(round, event.clientY);
  stopsOf(round).insertBefore(line, others[place] ?? null);
}

function dropped(event) {
  const round = event.target.closest?.("[data-round]");
  if (!carried || !round) return;
  event.preventDefault();
  const { place } = placeAt(round, event.clientY);
  const card = carried;
  ended();
  sendMove(card, round, place);
}

function ended() {
  carried?.classList.remove("is-carried");
  carried = null;
  line.remove();
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
