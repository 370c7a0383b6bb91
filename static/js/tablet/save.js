// Saved means: in both stores, written through. Whoever calls this learns of each copy by itself.

/** A copy that should have been made was not. `copies` says which stand; the page keeps what was typed. */
export class NotSaved extends Error {
  constructor(copies, cause) {
    const where = copies.database || copies.journal ? "Only one of the two copies could be written." : "Nothing could be written.";
    super(`Not saved safely: ${where} Keep this page open and make room on the tablet, then save again.`, { cause });
    this.name = "NotSaved";
    this.copies = copies;
  }
}

/**
 * @typedef {{database: boolean, journal: boolean}} Copies
 * @typedef {{database: ?import("./database.js").Database, journal: ?import("./journal.js").Journal}} Stores
 */

/** Makes sure that every store that is there has it. @returns {Promise<Copies>} @throws {NotSaved} */
async function both(stores, intoJournal, intoDatabase, isInOrder) {
  const journal = stores.journal ? intoJournal(stores.journal) : Promise.resolve();
  if (isInOrder) await journal.catch(() => {});
  const database = stores.database ? intoDatabase(stores.database) : Promise.resolve();
  const [written, stored] = await Promise.allSettled([journal, database]);
  const copies = {
    database: Boolean(stores.database) && stored.status === "fulfilled",
    journal: Boolean(stores.journal) && written.status === "fulfilled",
  };
  const failure = written.reason ?? stored.reason;
  if (failure || !(copies.database || copies.journal)) throw new NotSaved(copies, failure);
  return copies;
}

/** @param {import("./database.js").EventRow} row @param {Stores} stores @returns {Promise<Copies>} @throws {NotSaved} */
export function saveEvent(row, stores) {
  return both(stores, (journal) => journal.line(row), (database) => database.add([row]), false);
}

/**
 * A photo: its bytes in the file system first, then its line, then the database's rows with the bytes. Side by side they
 * left rows without bytes behind when the browser was killed.
 * @param {import("./database.js").PhotoRow} photo with its bytes @param {import("./database.js").EventRow} row
 * @param {Stores} stores @returns {Promise<Copies>} @throws {NotSaved}
 */
export function savePhoto(photo, row, stores) {
  const intoJournal = async (journal) => {
    await journal.writePhoto(photo.id, photo.bytes);
    await journal.line(row);
  };
  return both(stores, intoJournal, (database) => database.add([row], [photo]), true);
}
