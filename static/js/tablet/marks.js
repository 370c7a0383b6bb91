// Marks: a shape and a word, coloured by what they mean; the shapes of contractor/core/templatetags/mark_shapes.py.

import { h, svg } from "./dom.js";

const RING = "M8 1.6a6.4 6.4 0 1 1 0 12.8a6.4 6.4 0 1 1 0-12.8z";
const PAPER = "M3.2 1.9H9.6L12.8 5V14.1H3.2z";

function solid(d) {
  return ["path", { d, fill: "currentColor" }];
}

function cut(d) {
  return ["path", { class: "mark-cut", d, fill: "none", "stroke-width": "2", "stroke-linecap": "square" }];
}

function line(d, dash = "") {
  const dashes = dash ? { "stroke-dasharray": dash } : {};
  return ["path", { d, fill: "none", stroke: "currentColor", "stroke-width": "1.8", ...dashes }];
}

const MARKS = {
  good: ["good", "good", [solid("M8 .5a7.5 7.5 0 1 1 0 15a7.5 7.5 0 1 1 0-15z"), cut("M4.8 8.3L7.1 10.6L11.3 5.7")]],
  watch: ["watch", "watch", [solid("M8 .6L15.8 14.8H.2z"), cut("M8 6V9.4"), cut("M8 12.2V12.3")]],
  bad: ["bad", "bad", [solid("M8 0L16 8L8 16L0 8z"), cut("M5.9 5.9L10.1 10.1"), cut("M10.1 5.9L5.9 10.1")]],
  unknown: ["not checked", "unknown", [line(RING, "2.7 2.33")]],
  not_possible: ["not possible", "unknown", [line(RING, "2.7 2.33"), line("M4.6 8H11.4")]],
  open: ["open", "water", [line(RING), solid("M8 5a3 3 0 1 1 0 6a3 3 0 1 1 0-6z")]],
  kept: ["saved on this tablet", "water", [line(PAPER), line("M5.4 8.4H10.6M5.4 11.2H8.4")]],
  sent: [
    "received by the office",
    "good",
    [solid("M2.5 1H10l3.5 3.5V15h-11z"), cut("M5.2 9L7.2 11L10.9 6.8")],
  ],
};

/** The shape alone, for places whose word stands beside it. */
export function shape(code) {
  const drawn = MARKS[code][2].map(([tag, attributes]) => svg(tag, attributes));
  return svg("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" }, ...drawn);
}

/** The mark of a state, in its own word or another. */
export function mark(code, word = "") {
  const [usual, tone] = MARKS[code] || MARKS.unknown;
  return h("span", { class: `mark is-${tone}` }, shape(MARKS[code] ? code : "unknown"), h("span", {}, word || usual));
}

/** The tone of a state: the last part of a class such as "is-good". */
export function toneOf(code) {
  return (MARKS[code] || MARKS.unknown)[1];
}

/** The usual word of a state. */
export function wordOf(code) {
  return (MARKS[code] || MARKS.unknown)[0];
}
