// The round: stops in order of driving, what each asks, how far each is; and whether the tablet is ready for the day.

import { fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { readyPanel } from "./ready_panel.js";
import { sheetOf } from "./sheet.js";
import { stateOf } from "./visit_desk.js";
import { carryWords, links, windowWords } from "./stop_head.js";
import { day, many, today, weekday } from "./words.js";

const GONE = { cancelled: "cancelled by the office", moved: "moved by the office", reassigned: "given to somebody else" };

export async function roundPage(store) {
  const body = h("div", {});
  const said = h("p", { class: "soft", role: "status" });
  const ready = readyPanel(store);
  const heading = h("h1", { tabindex: "-1" }, "Round");
  const tell = { said: new Map(), owner: tellOwner };
  const fresh = h("button", { type: "button", class: "btn", onclick: () => refreshRounds() }, "Get the newest rounds");

  async function refreshRounds() {
    said.textContent = "Asking the office…";
    fresh.disabled = true;
    try {
      const answer = await store.refreshPack();
      said.textContent = answer === "new" ? "The rounds are up to date." : "Sign in to get new rounds.";
    } catch (problem) {
      said.textContent = (await store.pack()) ? `${problem.message} The rounds on this tablet stay as they are.` : problem.message;
    }
    fresh.disabled = false;
    await show();
  }

  async function tellOwner(visit) {
    const answer = await store
      .onTheWay(visit.visit)
      .catch(() => ({ isTold: false, sentence: "No signal: the owner is not told. Call them, or try again." }));
    tell.said.set(visit.visit, answer);
    said.textContent = `${visit.house.address[0]}: ${answer.sentence}`;
    await show();
  }

  async function show() {
    const pack = await store.pack();
    if (!pack) {
      fill(body, nothingYet(store.status()));
      return;
    }
    const stops = pack.visits.map((visit) => {
      const known = store.visit(visit.visit);
      return { visit, state: stateOf(known), sheet: sheetOf(pack, known) };
    });
    const days = [...new Set(stops.map(({ visit }) => visit.day))].sort();
    const now = today(pack.company.zone);
    heading.textContent = days.includes(now) ? `Today, ${weekday(now)}` : "Round";
    const next = days.find((one) => one >= now);
    const sections = days.map((one) => daySection(tell, one, { isToday: one === now, isNext: one === next }, stops.filter(({ visit }) => visit.day === one)));
    fill(body, sections.length ? sections : empty());
    said.dataset.made = pack.made;
  }

  await show();
  return {
    title: (await store.pack())?.person.name || "Round",
    actions: [],
    element: h("div", {}, heading, ready.element, body, h("div", { class: "actions round-end" }, fresh, h("a", { class: "btn", href: "#/tablet" }, "This tablet")), said),
    update: show,
    leave: () => ready.leave(),
  };
}

function daySection(tell, one, { isToday, isNext }, stops) {
  const ordered = stops.sort((a, b) => a.visit.stop - b.visit.stop);
  return h(
    "section",
    { class: "round-day" },
    isToday ? null : h("h2", {}, weekday(one)),
    h("ol", { class: "stops" }, ordered.map((stop) => stopCard(tell, stop, { isToday, isNext }))),
  );
}

function progressOf({ visit, state, sheet }) {
  if (GONE[state]) return { tone: "watch", element: mark("watch", GONE[state]) };
  if (state === "finished" || state === "done") return { tone: "done", element: mark("good", "finished") };
  if (sheet?.couldNot) return { tone: "watch", element: mark("watch", "could not be done") };
  if (sheet?.finish) return { tone: "done", element: mark("good", sheet.finish.receipt === "received" ? "finished, at the office" : "finished on this tablet") };
  if (sheet?.begun || sheet?.answered) {
    return { tone: "", element: mark("open", `${sheet.answered} of ${sheet.lines.length} answered`), value: sheet.answered, max: sheet.lines.length };
  }
  const asked = visit.has_checklist && sheet ? `not begun, ${many(sheet.lines.length, "line")}` : "not begun";
  return { tone: "", element: mark("unknown", asked) };
}

function stopCard(tell, stop, { isToday, isNext }) {
  const { visit, sheet } = stop;
  const { house } = visit;
  const progress = progressOf(stop);
  const carry = carryWords(visit);
  const address = `#/stop/${visit.visit}`;
  const isDone = progress.tone === "done" || sheet?.couldNot;
  const label = isDone ? "See what was done" : sheet?.begun ? "Go on" : "Open";
  return h(
    "li",
    { class: `item stop${progress.tone ? ` is-${progress.tone}` : ""}`, "data-visit": visit.visit },
    h("div", { class: "item-head" }, h("h3", {}, `${visit.stop}. ${house.address[0]}`), h("span", { class: "item-part" }, house.address.slice(1).join(", "))),
    h("p", { class: "stop-line" }, h("strong", {}, visit.kind_word), ` · ${windowWords(visit)} · ${visit.minutes} min`, house.owner?.name ? ` · ${house.owner.name}` : ""),
    house.access ? h("p", { class: "stop-line" }, h("span", { class: "soft" }, "Access: "), house.access) : null,
    carry.length ? h("div", { class: "message is-watch" }, h("p", {}, h("strong", {}, "Carry: "), carry.join(" "))) : null,
    visit.kind !== "checkup" && visit.reason ? h("p", { class: "stop-line" }, h("span", { class: "soft" }, "What for: "), visit.reason) : null,
    (visit.findings || []).map((finding) =>
      h("p", { class: "stop-line" }, mark(finding.severity === "watch" ? "watch" : "bad", `open since ${day(finding.since)}`), ` ${finding.what}`),
    ),
    h("p", { class: "stop-line" }, progress.element, progress.max ? h("progress", { max: progress.max, value: progress.value, "aria-label": "Answered lines" }) : null),
    h(
      "div",
      { class: "actions" },
      visit.has_checklist ? h("a", { class: `btn${isNext && !isDone ? " btn-primary" : ""}`, href: address, "aria-label": `${label}: ${house.address[0]}` }, label) : null,
      links(visit).children.length ? [...links(visit).children] : null,
      isToday && !isDone && !sheet?.begun && !GONE[stop.state] ? onTheWay(tell, visit) : null,
      visit.has_checklist || isDone || GONE[stop.state] || !isToday ? null : noteDone(visit),
      isDone || GONE[stop.state] ? null : h("a", { class: "btn btn-quiet", href: `${address}/could-not`, "aria-label": `Could not be done: ${house.address[0]}` }, "Could not be done"),
    ),
  );
}

/** A visit without a checklist is noted as done on a page of the office's, which needs signal. */
function noteDone(visit) {
  if (!navigator.onLine) return h("span", { class: "soft" }, "No signal: note it as done once you are back in signal.");
  return h("a", { class: "btn btn-primary", href: `/checkups/stops/${visit.visit}/done/`, "aria-label": `Note it as done: ${visit.house.address[0]}` }, "Note it as done");
}

/** One tap in the van; what the office says stands in place of the button, so that nobody is told twice by mistake. */
function onTheWay(tell, visit) {
  const said = tell.said.get(visit.visit);
  if (said?.isTold) return h("span", { class: "soft" }, said.sentence);
  const button = h("button", { type: "button", class: "btn", "aria-label": `On my way: ${visit.house.address[0]}` }, "On my way");
  button.addEventListener("click", () => {
    button.disabled = true;
    tell.owner(visit);
  });
  return [button, said ? h("span", { class: "soft" }, said.sentence) : null];
}

function empty() {
  return h("div", { class: "empty" }, h("h2", {}, "No stops on these days"), h("p", {}, "The office gives you stops; they stand here in the order of driving."));
}

function nothingYet(status) {
  const address = status.needsSignIn || !status.key ? "#/sign-in" : null;
  return h(
    "div",
    { class: "empty" },
    h("h2", {}, "No round on this tablet yet"),
    h("p", {}, address ? "Sign in once while there is signal; the rounds are then kept here." : "Get the newest rounds while there is signal; they are then kept here."),
    address ? h("div", { class: "actions" }, h("a", { class: "btn btn-primary", href: address }, "Sign in")) : null,
  );
}
