// The system at a glance: the section drawing, and its parts in words with how each stands now.

import { drawingFrom, h } from "./dom.js";
import { mark, shape, toneOf } from "./marks.js";
import { capital, day } from "./words.js";

const WORST_FIRST = ["bad", "watch", "unknown", "good"];

/** {element, update(sheet)}: the drawing takes the conditions that were found since it was made. `pieces` are the
 *  elements that the drawings of a pack share. */
export function glance(sheet, pieces, isOpen) {
  const drawing = drawingFrom(sheet.visit.drawing.map((piece) => pieces[piece]).join(""));
  const list = h("ul", { class: "legend" });
  const element = h(
    "details",
    { class: "system-glance", open: isOpen },
    h("summary", {}, "The system at a glance"),
    h("div", { class: "glance" }, drawing && h("figure", { class: "drawing" }, drawing), list),
  );

  function update(now) {
    list.replaceChildren(...now.parts.map(row));
    if (drawing) colour(drawing, now.parts);
  }
  update(sheet);
  return { element, update };
}

function row(part) {
  const words = [part.label !== part.word ? part.label : "", part.serial, part.in_on ? `in since ${day(part.in_on)}` : part.swap ? "swapped at this visit" : ""];
  return h(
    "li",
    {},
    h("span", {}),
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
    if (isCallOut) redraw(group, worst);
  }
}

function redraw(group, worst) {
  const old = group.querySelector("g[transform]");
  if (old) old.replaceChildren(...shape(worst).childNodes);
}
