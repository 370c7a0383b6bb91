// Where cards stand and may stand: the rounds of the sheet in reading order, and a card's place in one.

export const cardsOf = (round) => [...round.querySelectorAll("[data-card]")];
export const stopsOf = (round) => round.querySelector("[data-stops]");
export const roundOf = (card) => card.closest("[data-round]");
export const rounds = () => [...document.querySelectorAll(".wall [data-round]")];
export const waiting = () => document.querySelector('[data-round][data-where="off"]');

const technicianOf = (round) => round.dataset.where.split("/")[0];
const dayOf = (round) => round.dataset.where.split("/")[1] ?? "";

/** The same technician's next or previous working day; before the first one stand the visits not planned. */
export function besides(round, step) {
  if (round === waiting()) return step > 0 ? (rounds()[0] ?? null) : null;
  const days = rounds()
    .filter((one) => technicianOf(one) === technicianOf(round))
    .sort((one, other) => dayOf(one).localeCompare(dayOf(other)));
  const there = days.indexOf(round) + step;
  return there < 0 ? waiting() : (days[there] ?? null);
}

/** The next or previous technician who works on the same day. */
export function beneath(round, step) {
  const people = rounds().filter((one) => dayOf(one) === dayOf(round));
  return people[people.indexOf(round) + step] ?? null;
}

/** Where a card stands, in words. */
export function inWords(card) {
  const round = roundOf(card);
  const { name } = card.dataset;
  if (round === waiting()) return `${name}: not planned.`;
  const cards = cardsOf(round);
  return `${name}: ${round.dataset.name}, ${round.dataset.dayName}, stop ${cards.indexOf(card) + 1} of ${cards.length}.`;
}
