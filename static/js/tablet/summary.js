// What was found, as one tells it to the owner: what is sound, what to watch, what is bad, what was put right.

import { h } from "./dom.js";
import { mark } from "./marks.js";
import { many } from "./words.js";
import { NOT_POSSIBLE } from "./verdicts.js";

/** Paragraphs and lists; a line whose finding was written down is told in the words of the finding. */
export function summaryOf(sheet) {
  const judged = sheet.lines.filter((line) => line.verdict);
  const bare = judged.filter((line) => !line.findings.length);
  const told = (severities) => sheet.findings.filter((one) => !one.value.done && severities.includes(one.value.severity)).map((one) => sentences(one.value.what, one.value.what_to_do));
  const spoken = (word) => bare.filter((line) => line.verdict.word === word).map((line) => line.verdict.sentence);
  const sound = judged.filter((line) => line.verdict.word === "good").length;
  const swaps = sheet.parts.filter((part) => part.swap).map((part) => `A new ${part.word} was put in: ${[part.label, part.serial].filter(Boolean).join(", ")}.`);
  const right = sheet.findings.filter((one) => one.value.done).map((one) => sentences(one.value.what, one.value.done_note));
  return [
    h("p", {}, mark("good", `${many(sound, "check")} in good order`)),
    group("bad", "Needs a repair", [...told(["urgent", "bad"]), ...spoken("bad")]),
    group("watch", "Worth watching", [...told(["watch"]), ...spoken("watch")]),
    group("good", "Put right today", [...swaps, ...right]),
    group("not_possible", "Could not be checked", spoken(NOT_POSSIBLE)),
    group("watch", "Still open from before", sheet.earlier.map((one) => sentences(one.value.what, one.value.what_to_do))),
  ];
}

function sentences(...words) {
  return words.filter(Boolean).join(" ");
}

function group(code, heading, lines) {
  if (!lines.length) return null;
  return h("div", { class: "told" }, h("h3", {}, mark(code, heading)), h("ul", {}, lines.map((words) => h("li", {}, words))));
}
