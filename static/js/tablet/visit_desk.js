// What every page of a visit needs of the store: its sheet, its writes, its drafts, who somebody is.

import { say, sayWrong, untouched } from "./dom.js";
import { judge } from "./outcomes.js";
import { sheetOf } from "./sheet.js";

/** Opens a visit: {sheet(), record, keep, addPhoto, draft, refresh, ...}. Null when the tablet has no such visit. */
export async function openVisit(store, id, changed = () => {}) {
  const pack = await store.pack();
  const first = pack && (await store.visit(id));
  if (!first?.visit) return null;
  let sheet = sheetOf(pack, first);
  const drafts = readDrafts(await store.drafts(id));

  let coming = null;

  /** Shows what the store holds by now, once for whoever asks meanwhile. */
  function refresh() {
    coming ??= untouched().then(async () => {
      coming = null;
      sheet = sheetOf(pack, await store.visit(id));
      await changed(sheet);
    });
    return coming;
  }

  async function write(kind, field, value) {
    return (await store.record({ visit: id, kind, field, value })).event;
  }

  async function begin(kind) {
    if (!sheet.begun && kind !== "could_not") await write("begun", "begun", { checklist: first.visit.checklist });
  }

  const place = {
    store,
    pack,
    id,
    drafts,
    system: pack.company.units,
    sheet: () => sheet,
    state: () => stateOf(store.visit(id) || first),
    isClosed: () => Boolean(sheet.finish) || place.state() === "finished",
    nameOf(event) {
      if (event.actor === pack.person.id) return "You";
      return pack.people?.[event.actor] || "Somebody else";
    },
    async record(kind, field, value) {
      await begin(kind);
      return write(kind, field, value);
    },
    /** Records, and says at `said` how that goes. True when it was kept. */
    async keep(kind, field, value, said) {
      say(said, "Saving…");
      said.classList.remove("is-wrong");
      try {
        await place.record(kind, field, value);
      } catch (problem) {
        sayWrong(said, `Not saved. ${problem.message} What you entered stays here.`);
        return false;
      }
      say(said, "");
      await refresh();
      return true;
    },
    async addPhoto(bytes, value) {
      await begin("photo");
      const { copies } = await store.addPhoto({ visit: id, file: bytes, value });
      if (!copies.database && !copies.journal) throw new NotKept("There may be no room left on this tablet.");
    },
    /** What is typed and not kept yet, overwritten at each stroke; null forgets it. */
    draft(field, typed) {
      if (typed === null) drafts.delete(field);
      else drafts.set(field, typed);
      store.draft(id, field, typed === null ? "" : JSON.stringify(typed));
    },
    /** The verdict that a reading would have, seen together with everything else. */
    verdictWith(line, reading) {
      const trial = sheet.lines.map((one) => ({ ...one, reading: one.field === line.field ? reading : one.reading }));
      const pits = sheet.parts.filter((part) => part.kind === "pit").map((part) => part.id);
      judge(trial, pits, pack.company.units);
      return trial.find((one) => one.field === line.field)?.verdict || null;
    },
    refresh,
  };
  return place;
}

/** The state of a visit as last heard: what the office answered goes before what stood in the round. */
export function stateOf({ visit, office }) {
  const isElsewhere = office?.day && office.day !== visit.day;
  if (isElsewhere && office.state === "open") return "moved";
  return office?.state && office.state !== "open" ? office.state : visit.state;
}

function readDrafts(kept) {
  const found = new Map();
  for (const [field, text] of kept) {
    try {
      if (text) found.set(field, JSON.parse(text));
    } catch {
      // a draft of another version: the field stands empty
    }
  }
  return found;
}
