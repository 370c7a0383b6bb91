// The system at a glance: the section drawing, and its parts in words with how each stands now.

import { arrange, drawingFrom, h, svg } from "./dom.js";
import { mark, shape, toneOf, wordOf } from "./marks.js";
import { capital, day } from "./words.js";

const WORST_FIRST = ["bad", "watch", "unknown", "good"];

/** {element, update(sheet)}: the drawing takes the conditions that were found since it was made. `pieces` are the
 *  elements that the drawings of a pack share. */
export function glance(sheet, pieces, isOpen) {
  const drawing = drawingFrom(sheet.visit.drawing.map((piece) => pieces[piece]).join(""));
  const numbers = new Map([...(drawing?.querySelectorAll(".callout[data-kind]") || [])].map((one) => [one.dataset.kind, one.dataset.number]));
  const list = h("ul", { class: "legend" });
  let coloured = "";
  const element = h(
    "details",
    { class: "system-glance", open: isOpen },
    h("summary", {}, "The system at a glance"),
    h("div", { class: "glance" }, drawing && h("figure", { class: "drawing" }, drawing), list),
  );

  function update(now) {
    arrange(list, now.parts.map((part) => [`${part.id} ${part.now} ${part.label} ${part.serial}`, () => row(part, numbers.get(part.kind))]));
    const stands = now.parts.map((part) => `${part.kind} ${part.now}`).join(" ");
    if (drawing && stands !== coloured) colour(drawing, now.parts);
    coloured = stands;
  }
  update(sheet);
  return { element, update };
}

/** A part in words, under the number that its kind has in the drawing. */
function row(part, number) {
  const words = [part.label !== part.word ? part.label : "", part.serial, part.in_on ? `in since ${day(part.in_on)}` : part.swap ? "swapped at this visit" : ""];
  return h(
    "li",
    {},
    h("span", { class: "legend-number" }, number || ""),
    h("span", {}, capital(part.word)),
    mark(part.now),
    h("span", { class: "legend-note" }, words.filter(Boolean).join(", ")),
    part.note && part.now === part.condition ? h("span", { class: "legend-note" }, part.note) : null,
  );
}

/** Gives each part and its call-out the worst condition of its kind, as the office draws it. */
function colour(drawing, parts) {
  for (const group of drawing.querySelectorAll("[data-kind]")) {
    const same = parts.filter((part) => part.kind === group.dataset.kind);
    const worst = WORST_FIRST.find((word) => same.some((part) => part.now === word));
    if (!worst) continue;
    const isCallOut = group.classList.contains("callout");
    const tone = isCallOut || ["bad", "watch"].includes(worst) ? toneOf(worst) : "plain";
    group.setAttribute("class", `${isCallOut ? "callout" : "part"} is-${tone}`);
    if (isCallOut) redraw(group, worst, `${group.dataset.number} ${same[0].word}: ${wordOf(worst)}`);
  }
}

/** The call-out's shape, and its word for whoever points at it or has it read aloud. */
function redraw(group, worst, said) {
  group.querySelector("g[transform]")?.replaceChildren(...shape(worst).childNodes);
  group.querySelector("title")?.remove();
  group.prepend(svg("title", {}, said));
}
