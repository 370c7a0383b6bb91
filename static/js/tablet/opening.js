// Opens both stores, compares and mends them, and reads what is kept into the working copy.

import { openDatabase } from "./database.js";
import { Drafts } from "./drafts.js";
import { Identity } from "./identity.js";
import { openJournal } from "./journal.js";
import { keptIn } from "./kept.js";
import { Memory } from "./memory.js";
import { recover } from "./recovery.js";

/** @returns {Promise<object>} stores, identity, drafts, memory, rounds (`pack`), the journal's `files`, and the findings */
export async function openAll() {
  // A newer page, in another tab, waits to change the database: this one gives way and comes back with the new version.
  const [database, journal] = await Promise.all([openDatabase({ onBlocking: () => location.reload() }), openJournal()]);
  const stores = { database, journal };
  const identity = await new Identity(stores).open();
  const drafts = await new Drafts(database).open();
  const { rows, photos, files, findings } = await recover(stores);
  const memory = new Memory();
  memory.take({ events: rows, photos, visits: (await database?.all("visits")) ?? [] });
  return { stores, identity, drafts, memory, pack: await keptIn(stores, "pack"), files, findings };
}

/** The bytes of a photo, from whichever store has them. @returns {Promise<?ArrayBuffer>} */
export async function photoBytes({ database, journal }, id) {
  const row = await database?.get("photos", id).catch(() => null);
  return row?.bytes ?? (await journal?.readPhoto(id).catch(() => null)) ?? null;
}
