// What the office's answers change on the tablet: receipts, what others said at a visit, and a database come back from an
// older copy of itself.

import { ask } from "./door.js";

const ACCEPTED = new Set(["stored", "duplicate", "quarantined"]);
const CLOSED = new Set(["finished", "cancelled", "reassigned"]);
/** Acknowledged work stays on the tablet for so long after its visit is closed, by the office's clock. */
const KEEP_MS = 14 * 24 * 60 * 60 * 1000;

export class Receipts {
  #offeredAgain = new Set();

  /**
   * @param {{memory: import("./memory.js").Memory, identity: import("./identity.js").Identity,
   *   stores: import("./save.js").Stores, files: Map<string, string[]>, onRows: (rows: object) => void}} parts
   */
  constructor(parts) {
    Object.assign(this, parts);
  }

  /** A question about a photo, with a right. */
  ask(path, words = {}, rights = {}) {
    return ask(path, { ...words, ...rights, headers: { ...words.headers, ...rights.headers } });
  }

  /** Takes in an answer of the events' door. @returns {Promise<Set<string>>} the ids that it is a receipt for */
  async answer(data) {
    const changed = new Map();
    for (const receipt of Array.isArray(data.receipts) ? data.receipts : []) {
      const row = this.memory.events.get(receipt?.id);
      if (!row || row.sha256 !== receipt.sha256 || !ACCEPTED.has(receipt.status)) continue;
      changed.set(row.id, { state: "sent", flags: receipt.flags ?? [], sentence: receipt.sentence ?? "" });
    }
    await this.#change(changed);
    await this.#hearEpoch(data.epoch, changed);
    for (const [visit, told] of Object.entries(data.visits ?? {})) await this.#hearVisit(visit, told, data.now);
    await this.identity.keep({ lastSentAt: data.now ?? null, minClient: data.min_client ?? "" });
    await this.#forgetOld(Date.parse(data.now));
    return new Set(changed.keys());
  }

  async #change(changes) {
    if (changes.size === 0) return;
    const rows = [...changes].map(([id, change]) => ({ ...this.memory.events.get(id), ...change }));
    // Were this lost, the items would be offered once more and found to be there already.
    await this.stores.database?.changeEvents(changes).catch(() => {});
    this.onRows({ events: rows });
  }

  /**
   * A photo's receipt: the database lets its bytes go. The file stays as long as the event does, for an office that has to
   * go back to a backup. Or nobody has the bytes any more ("gone"), which the status says.
   */
  async photo(id, state) {
    const row = { ...this.memory.photos.get(id), state };
    await this.stores.database?.changePhoto(id, state === "sent" ? { state, bytes: null } : { state }).catch(() => {});
    this.onRows({ photos: [row] });
  }

  /** Another epoch: the office runs on an older copy of its database, so all that is kept is offered again. */
  async #hearEpoch(epoch, justReceived) {
    const { known } = this.identity;
    if (!epoch || epoch === known.epoch) return;
    if (known.epoch) {
      const ids = [...this.memory.events.keys()].filter((id) => !justReceived.has(id));
      await this.#offerAgain(ids, [...this.memory.photos.keys()]);
    }
    await this.identity.keep({ epoch });
  }

  async #offerAgain(eventIds, photoIds) {
    const events = eventIds.filter((id) => this.memory.events.get(id)?.state === "sent");
    await this.#change(new Map(events.map((id) => [id, { state: "waiting" }])));
    for (const id of photoIds) if (this.memory.photos.has(id)) await this.photo(id, "waiting");
  }

  async #hearVisit(visit, told, now) {
    const row = this.memory.visitRow(visit);
    const closed = CLOSED.has(told.state) ? (row.closed ?? now) : null;
    const others = (told.events ?? []).filter((raw) => isEvent(raw));
    const events = [...new Set([...row.events, ...others])];
    const heard = { visit, state: told.state ?? "open", day: told.day ?? null, missing: told.missing ?? [], closed, events };
    await this.stores.database?.put("visits", heard).catch(() => {});
    this.onRows({ visits: [heard] });
    const lacking = heard.missing.filter((id) => !this.#offeredAgain.has(id));
    for (const id of lacking) this.#offeredAgain.add(id);
    await this.#offerAgain(lacking, lacking.filter((id) => this.memory.photos.get(id)?.state === "sent"));
  }

  /** Takes in freshly fetched rounds. A visit that is in none of them any more, with nothing waiting, counts as closed. */
  async rounds(pack) {
    const inPack = new Map(pack.visits.map((visit) => [visit.visit, visit]));
    for (const [visit, { events = [], state: now }] of inPack) {
      const row = this.memory.visitRow(visit);
      const known = [...new Set([...row.events, ...events.filter(isEvent)])];
      // The round is newer than what was heard before: a visit that stands in it was taken up again.
      const state = now === "finished" ? now : "open";
      const heard = { ...row, state, day: null, closed: CLOSED.has(state) ? (row.closed ?? pack.made) : null, events: known };
      await this.stores.database?.put("visits", heard).catch(() => {});
      this.onRows({ visits: [heard] });
    }
    const ours = new Set([...this.memory.events.values()].map((row) => row.visit));
    for (const visit of ours) {
      const row = this.memory.visitRow(visit);
      if (inPack.has(visit) || row.closed) continue;
      const left = { ...row, closed: pack.made };
      await this.stores.database?.put("visits", left).catch(() => {});
      this.onRows({ visits: [left] });
    }
    await this.#hearEpoch(pack.epoch, new Map());
  }

  /** Clears away what was received, whose visit is closed, and whose time has passed; files of the journal with it. */
  async #forgetOld(nowMs) {
    const isOld = (visit) => {
      const { closed } = this.memory.visitRow(visit);
      return closed && nowMs - Date.parse(closed) > KEEP_MS;
    };
    const waiting = new Set([...this.memory.waitingEvents(), ...this.memory.waitingPhotos()].map((row) => row.visit));
    const known = [...this.memory.events.values()].map((row) => row.visit);
    const visits = new Set(known.filter((visit) => !waiting.has(visit) && isOld(visit)));
    if (visits.size) {
      const events = [...this.memory.events.values()].filter((row) => visits.has(row.visit)).map((row) => row.id);
      const photos = [...this.memory.photos.values()].filter((row) => visits.has(row.visit)).map((row) => row.id);
      await this.stores.database?.removeEvents(events);
      await this.stores.database?.remove("photos", ...photos);
      await this.stores.database?.remove("visits", ...visits);
      for (const id of photos) await this.stores.journal?.removePhoto(id).catch(() => {});
      this.onRows({ forgotten: { events, photos, visits: [...visits] } });
    }
    for (const [name, ids] of this.files) {
      if (ids.some((id) => this.memory.events.has(id))) continue;
      await this.stores.journal?.remove(name).catch(() => {});
      this.files.delete(name);
    }
  }
}

function isEvent(raw) {
  try {
    const event = JSON.parse(raw);
    return typeof event.id === "string" && Array.isArray(event.bases) && typeof event.field === "string";
  } catch {
    return false;
  }
}
