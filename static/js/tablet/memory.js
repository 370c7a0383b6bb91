// What this page knows at the moment: the working copy of both stores, from which every screen is drawn.

import { conflictsIn, headsOf } from "./heads.js";

/**
 * @typedef {import("./database.js").EventRow} EventRow
 * @typedef {import("./database.js").PhotoRow} PhotoRow
 * @typedef {import("./database.js").VisitRow} VisitRow
 */

export class Memory {
  /** @type {Map<string, EventRow>} made on this tablet, by id, in the order they were made */
  events = new Map();
  /** @type {Map<string, PhotoRow>} without their bytes */
  photos = new Map();
  /** @type {Map<string, VisitRow>} what the office answered, by visit */
  visits = new Map();
  #parsed = new Map();

  /** @param {string} raw @returns {object} the event, frozen; the text itself is what is kept and sent */
  parse(raw) {
    if (!this.#parsed.has(raw)) this.#parsed.set(raw, Object.freeze(JSON.parse(raw)));
    return this.#parsed.get(raw);
  }

  addEvent(row) {
    const known = this.events.get(row.id);
    this.events.set(row.id, known ? { ...known, ...row } : row);
  }

  addPhoto({ bytes: _bytes, ...row }) {
    this.photos.set(row.id, row);
  }

  /**
   * Takes rows into the working copy.
   * @param {{events?: EventRow[], photos?: PhotoRow[], visits?: VisitRow[], forgotten?: ?object}} news
   * @returns {Set<string>} the visits it is about
   */
  take({ events = [], photos = [], visits = [], forgotten = null }) {
    for (const row of events) this.addEvent(row);
    for (const row of photos) this.addPhoto(row);
    for (const row of visits) this.visits.set(row.visit, row);
    for (const kind of ["events", "photos", "visits"]) for (const id of forgotten?.[kind] ?? []) this[kind].delete(id);
    return new Set([...events, ...photos, ...visits].map((row) => row.visit));
  }

  visitRow(visit) {
    return this.visits.get(visit) ?? { visit, state: "open", events: [], missing: [], closed: null };
  }

  /**
   * The events of a visit that this person may see: their own, and those that the office holds.
   * Each carries `receipt`: "waiting" (only on this tablet) or "received".
   */
  eventsOf(visit, person) {
    const found = new Map();
    for (const raw of this.visitRow(visit).events) {
      const event = this.parse(raw);
      found.set(event.id, { ...event, receipt: "received", flags: [], sentence: "" });
    }
    for (const row of this.events.values()) {
      if (row.visit !== visit) continue;
      const event = this.parse(row.raw);
      if (event.actor !== person && !found.has(row.id)) continue;
      const receipt = row.state === "sent" ? "received" : "waiting";
      found.set(row.id, { ...event, receipt, flags: row.flags, sentence: row.sentence });
    }
    return [...found.values()];
  }

  /** @returns {{heads: Map<string, object[]>, conflicts: string[]}} */
  standing(visit, person) {
    const heads = headsOf(this.eventsOf(visit, person));
    return { heads, conflicts: conflictsIn(heads) };
  }

  waitingEvents() {
    return [...this.events.values()].filter((row) => row.state === "waiting").sort((one, other) => (one.id < other.id ? -1 : 1));
  }

  waitingPhotos() {
    return [...this.photos.values()].filter((row) => row.state === "waiting").sort((one, other) => (one.id < other.id ? -1 : 1));
  }
}
