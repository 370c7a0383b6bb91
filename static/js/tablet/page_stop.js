// The stop: one flowing page in walking order. Cards are made once and take in what changes; nothing typed is redrawn.

import { announce, arrange, fill, goTo, h, say } from "./dom.js";
import { findingCards, findingForm } from "./findings.js";
import { glance } from "./glance.js";
import { lineCard } from "./lines/card.js";
import { layOut, layOutChanged, watchWidth } from "./room.js";
import { houseFacts, stateNotes } from "./stop_head.js";
import { makeClocks } from "./timers.js";
import { openVisit } from "./visit_desk.js";
import { capital, many, day, stopwatch } from "./words.js";

const ALMOST = 12;
const AT_ONCE = 2;

export async function stopPage(store, { visit: id }) {
  const cards = new Map();
  let shape = "";
  let toMake = [];
  const place = await openVisit(store, id, show);
  if (!place) return noSuchStop();
  place.clocks = makeClocks({
    timerOf: (key) => place.sheet().heads.get(`timer:${key}`)?.at(-1)?.value || null,
    record: async (field, value) => {
      try {
        await place.record("timer", field, value);
        await place.refresh();
      } catch {
        announce("The clock runs, but this tablet could not write it down. Keep this page open.");
      }
    },
  });
  const { visit } = place.sheet();
  const note = h("div", {});
  const picture = glance(place.sheet(), place.pack.pieces, !place.sheet().answered);
  const before = h("section", { class: "step" });
  const nav = h("ul", { class: "tabs" });
  const steps = h("div", {});
  const loose = h("section", { class: "step" });
  const running = h("div", { class: "running", role: "group", "aria-label": "Clocks that run" });
  const progress = h("p", { class: "progress-words" });
  const bar = h("progress", { "aria-label": "Answered lines" });
  const next = h("button", { type: "button", class: "btn btn-primary", onclick: toNext }, "Next open line");
  const sign = h("a", { class: "btn", href: `#/stop/${id}/sign` }, "Talk and sign");
  const element = h(
    "div",
    {},
    h("h1", { tabindex: "-1" }, visit.kind_word || "Check-up"),
    note,
    houseFacts(visit),
    picture.element,
    before,
    h("nav", { class: "steps-nav", "aria-label": "Steps of the walk" }, nav),
    steps,
    loose,
  );

  function toNext() {
    makeAll();
    const open = place.sheet().missing;
    const at = document.activeElement?.closest?.("article.line")?.id;
    const order = place.sheet().lines.map((line) => line.field);
    const after = open.find((line) => order.indexOf(line.field) > order.indexOf(at)) || open[0];
    if (after) goTo(document.getElementById(after.field));
    else location.hash = `#/stop/${id}/sign`;
  }

  /** The first steps at once, the others one after another in the moments after it: the page is there under the thumb. */
  function build(sheet) {
    const fields = new Set(sheet.lines.map((line) => line.field));
    for (const field of [...cards.keys()]) if (!fields.has(field)) cards.delete(field);
    fill(nav, sheet.steps.map(navItem));
    const made = sheet.steps.map((step) => {
      const head = h("h2", { id: `head-${step.code}`, tabindex: "-1" }, step.word);
      return h("section", { class: "step", id: `step-${step.code}`, "aria-labelledby": head.id }, head);
    });
    toMake = sheet.steps.map((step, index) => () => {
      made[index].append(...step.groups.flatMap((group) => [partHead(group, sheet), ...group.lines.map(cardOf)]).filter(Boolean));
      layOut(step.lines.map((line) => cards.get(line.field).element));
    });
    fill(steps, made);
    for (let first = 0; first < AT_ONCE; first += 1) toMake.shift()?.();
    setTimeout(makeNext);
  }

  function makeNext() {
    toMake.shift()?.();
    if (toMake.length) setTimeout(makeNext);
  }

  /** Whatever is not made yet, now. */
  function makeAll() {
    while (toMake.length) toMake.shift()();
  }

  function cardOf(line) {
    const known = cards.get(line.field);
    known?.update(line);
    if (!known) cards.set(line.field, lineCard(line, place));
    return cards.get(line.field).element;
  }

  function navItem(step) {
    const jump = (event) => {
      event.preventDefault();
      makeAll();
      goTo(document.getElementById(`head-${step.code}`));
    };
    return h("li", {}, h("a", { href: `#/stop/${id}?line=head-${step.code}`, onclick: jump }, `${step.word} `, h("small", {})));
  }

  function partHead(group, sheet) {
    const part = sheet.parts.find((one) => one.id === group.component);
    if (!part) return null;
    const said = [part.label, part.serial, part.in_on ? `in since ${day(part.in_on)}` : part.swap ? "swapped at this visit" : ""];
    const swap = place.isClosed() ? null : h("a", { class: "btn", href: `#/stop/${id}/swap/${encodeURIComponent(part.id)}` }, part.swap ? "Change the swap" : "Swap this part");
    return h("div", { class: "part-head" }, h("h3", {}, capital(part.word)), h("p", { class: "soft" }, said.filter(Boolean).join(" · ")), swap);
  }

  function show(sheet) {
    const now = `${sheet.lines.map((line) => line.field).join(" ")} ${place.isClosed()}`;
    if (now !== shape) {
      shape = now;
      build(sheet);
    } else {
      makeAll();
      layOutChanged(sheet.lines.filter((line) => cards.get(line.field).update(line)).map((line) => cards.get(line.field).element));
    }
    showAround(sheet);
  }

  function showAround(sheet) {
    arrange(note, stateNotes(place, sheet));
    picture.update(sheet);
    sheet.steps.forEach((step, index) => {
      const done = step.lines.filter((line) => line.verdict).length;
      say(nav.children[index].querySelector("small"), `${done}/${step.lines.length}`);
    });
    showFindings(before, "Still open from before", sheet.earlier);
    showFindings(loose, "Found on parts that came out, or elsewhere", sheet.loose, place.isClosed() ? null : ["elsewhere", () => elsewhere(place)]);
    const photos = sheet.missing.filter((line) => line.verdict).length;
    say(progress, `${sheet.answered} of ${sheet.lines.length} answered${photos ? `, ${many(photos, "photo")} missing` : ""}`);
    bar.max = sheet.lines.length;
    bar.value = sheet.answered;
    say(next, sheet.missing.length ? "Next open line" : "Talk and sign");
    sign.hidden = !sheet.missing.length && !place.isClosed() ? true : sheet.missing.length > ALMOST && !place.isClosed();
    next.hidden = place.isClosed();
    showRunning();
  }

  function showRunning() {
    const now = place.clocks.running();
    const keys = now.map((clock) => clock.key).join(" ");
    if (running.dataset.keys === keys) {
      now.forEach((clock, index) => {
        say(running.children[index].lastChild, stopwatch(clock.elapsed));
      });
      return;
    }
    running.dataset.keys = keys;
    const to = (clock) => () => goTo(document.getElementById(`answer:${clock.key}`));
    fill(running, now.map((clock) => h("button", { type: "button", class: "btn running-clock", onclick: to(clock) }, h("span", {}, `${capital(clock.name)} `), h("strong", {}, stopwatch(clock.elapsed)))));
  }

  function showFindings(where, heading, findings, more) {
    const wanted = [...findingCards(findings, place), more].filter(Boolean);
    where.hidden = !wanted.length;
    arrange(where, wanted.length ? [["head", () => h("h2", {}, heading)], ...wanted] : []);
  }

  show(place.sheet());
  const unwatch = watchWidth(steps, () => steps.querySelectorAll("article.line"));
  const beat = setInterval(showRunning, 500);
  return {
    title: visit.house.address[0],
    actions: [h("a", { class: "btn", href: "#/" }, "Round")],
    element,
    bottom: [h("div", { class: "bottom-bar" }, running, h("div", { class: "bottom-progress" }, progress, bar), h("div", { class: "bottom-bar-inner" }, next, sign))],
    update: (changed) => (changed === null || String(changed) === id ? place.refresh() : null),
    whole: makeAll,
    leave() {
      toMake = [];
      unwatch();
      clearInterval(beat);
      place.clocks.end();
    },
  };
}

function elsewhere(place) {
  return h("details", { class: "elsewhere" }, h("summary", {}, "Something found elsewhere"), findingForm(null, place));
}

export function noSuchStop() {
  return {
    title: "No such stop",
    actions: [h("a", { class: "btn", href: "#/" }, "Round")],
    element: h("div", { class: "empty" }, h("h1", { tabindex: "-1" }, "This stop is not on this tablet"), h("p", {}, "Go back to the round and get the newest rounds while there is signal.")),
  };
}
