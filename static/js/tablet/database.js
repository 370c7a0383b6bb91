// The tablet's database (IndexedDB): strict durability, one write after another, and honest about what the browser lost.

import { openDB } from "../../vendor/idb/idb.js";

const NAME = "tablet";
/** Raised with every change of the stores. An upgrade only adds; what waits in them is never rewritten. */
const VERSION = 1;
const STRICT = { durability: "strict" };

/**
 * @typedef {{id: string, visit: string, raw: string, sha256: string, state: "waiting"|"sent", sentence: string,
 *   flags: string[], seq?: number}} EventRow
 * @typedef {{id: string, visit: string, event: string, sha256: string, size: number, bytes: ?ArrayBuffer,
 *   state: "waiting"|"sent"|"gone"}} PhotoRow
 * @typedef {{visit: string, state: string, events: string[], missing: string[], closed: ?string}} VisitRow
 */

/** What upgrade N-1 to N adds. */
const UPGRADES = [
  (db) => {
    const events = db.createObjectStore("events", { keyPath: "seq", autoIncrement: true });
    events.createIndex("id", "id", { unique: true });
    db.createObjectStore("photos", { keyPath: "id" });
    db.createObjectStore("visits", { keyPath: "visit" });
    db.createObjectStore("drafts", { keyPath: ["visit", "field"] });
    db.createObjectStore("meta", { keyPath: "name" });
  },
];

export class Database {
  #db;
  #queue = Promise.resolve();
  /** The browser's own words when it threw the database away; "" otherwise. */
  loss = "";

  async open({ onBlocking = () => {}, onTerminated = () => {} } = {}) {
    this.#db = await openDB(NAME, VERSION, {
      upgrade: (db, from, to, _transaction, event) => {
        if (event.dataLoss && event.dataLoss !== "none") this.loss = event.dataLossMessage || "The browser lost the database.";
        for (let step = from; step < to; step += 1) UPGRADES[step](db);
      },
      blocking: () => {
        this.#db?.close();
        onBlocking();
      },
      terminated: onTerminated,
    });
    return this;
  }

  close() {
    this.#db.close();
  }

  /** Runs `write(transaction)` after every earlier write is done; resolves when its transaction is complete. */
  #write(stores, write) {
    const turn = this.#queue.then(async () => {
      const transaction = this.#db.transaction(stores, "readwrite", STRICT);
      transaction.done.catch(() => {}); // heard below; a failing request must not be reported twice
      try {
        write(transaction);
        transaction.commit?.();
      } catch (error) {
        transaction.abort();
        throw error;
      }
      await transaction.done;
    });
    this.#queue = turn.catch(() => {});
    return turn;
  }

  all = (store) => this.#db.getAll(store);
  get = (store, key) => this.#db.get(store, key);

  /** Adds events and the photos that belong to them, all or none. @param {EventRow[]} events @param {PhotoRow[]} photos */
  add(events, photos = []) {
    return this.#write(photos.length ? ["events", "photos"] : ["events"], (transaction) => {
      for (const row of events) heard(transaction.objectStore("events").add(row));
      for (const row of photos) heard(transaction.objectStore("photos").put(row));
    });
  }

  put(store, ...rows) {
    return this.#write([store], (transaction) => rows.forEach((row) => heard(transaction.objectStore(store).put(row))));
  }

  remove(store, ...keys) {
    return this.#write([store], (transaction) => keys.forEach((key) => heard(transaction.objectStore(store).delete(key))));
  }

  keep = (name, value) => this.put("meta", { name, value });
  kept = async (name) => (await this.get("meta", name))?.value ?? null;

  /** Changes the rows of these event ids. @param {Map<string, Partial<EventRow>>} changes */
  async changeEvents(changes) {
    const rows = await Promise.all([...changes.keys()].map((id) => this.#db.getFromIndex("events", "id", id)));
    await this.put("events", ...rows.filter(Boolean).map((row) => ({ ...row, ...changes.get(row.id) })));
  }

  /** Changes a photo's row; the other fields, its bytes too, stay. */
  async changePhoto(id, change) {
    const row = await this.get("photos", id);
    if (row) await this.put("photos", { ...row, ...change });
  }

  async removeEvents(ids) {
    const keys = await Promise.all(ids.map((id) => this.#db.getKeyFromIndex("events", "id", id)));
    await this.remove("events", ...keys.filter((key) => key !== undefined));
  }
}

/** A request's failure also fails its transaction, which is what the caller waits for. */
function heard(request) {
  request.catch(() => {});
}

/** @returns {Promise<?Database>} null where the browser denies or lacks it */
export async function openDatabase(told = {}) {
  try {
    return await new Database().open(told);
  } catch {
    return null;
  }
}
