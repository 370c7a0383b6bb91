// At the start the two stores are compared: what one of them lost, the other gives back; what is damaged is counted and said.

import { sha256 } from "./hash.js";

/**
 * @typedef {{restored: number, rewritten: number, damaged: number, photosLost: number, loss: string}} Findings
 */

/** Reads the journal's files. @returns {Promise<{items: Map, files: Map<string, string[]>, damaged: number}>} */
async function readJournal(journal) {
  const items = new Map();
  const files = new Map();
  let damaged = 0;
  for (const { name, text } of await journal.files()) {
    if (text === null) {
      damaged += 1;
      continue;
    }
    const ids = [];
    for (const line of text.split("\n").filter(Boolean)) {
      const item = await whole(line);
      if (item) {
        items.set(item.id, item);
        ids.push(item.id);
      } else damaged += 1;
    }
    files.set(name, ids);
  }
  return { items, files, damaged };
}

/** @returns {Promise<?{id: string, raw: string, sha256: string}>} null for a line that is torn or changed */
async function whole(line) {
  try {
    const { id, raw, sha256: hash } = JSON.parse(line);
    return (await sha256(raw)) === hash && JSON.parse(raw).id === id ? { id, raw, sha256: hash } : null;
  } catch {
    return null;
  }
}

/** @returns {import("./database.js").EventRow} as new: the office tells doubles apart by their ids */
export function waitingRow({ id, raw, sha256: hash }) {
  return { id, visit: JSON.parse(raw).visit, raw, sha256: hash, state: "waiting", flags: [], sentence: "" };
}

/** @returns {?import("./database.js").PhotoRow} for the row of a photo's event; null for other events */
export function photoRow(row, bytes, state = "waiting") {
  const event = JSON.parse(row.raw);
  if (event.kind !== "photo" || event.value === null) return null;
  const id = event.field.slice("photo:".length);
  return { id, visit: event.visit, event: row.id, sha256: event.value.sha256, size: event.value.bytes, bytes, state };
}

/** The bytes of a photo, if this copy of them is whole. */
async function wholeBytes(bytes, hash) {
  return bytes && (await sha256(bytes)) === hash ? bytes : null;
}

/** Sees to it that a photo that still waits has its bytes in both stores. @returns {Promise<?object>} its row */
async function mendPhoto(row, kept, stores, findings) {
  if (kept && kept.state !== "waiting") return kept;
  const wanted = kept ?? photoRow(row, null);
  if (!wanted) return null;
  const here = await wholeBytes(kept?.bytes, wanted.sha256);
  const filed = stores.journal && (await wholeBytes(await stores.journal.readPhoto(wanted.id).catch(() => null), wanted.sha256));
  const bytes = here ?? filed ?? null;
  if (!bytes) findings.photosLost += 1;
  if (bytes && stores.journal && !filed) {
    await stores.journal.writePhoto(wanted.id, bytes).catch(() => {});
    findings.rewritten += 1;
  }
  if (stores.database && !here && (bytes || !kept)) {
    await stores.database.put("photos", { ...wanted, bytes });
    findings.restored += 1;
  }
  return { ...wanted, bytes };
}

/**
 * Compares and mends.
 * @param {import("./save.js").Stores} stores
 * @returns {Promise<{rows: object[], photos: object[], files: Map<string, string[]>, findings: Findings}>}
 */
export async function recover(stores) {
  const mend = async () => {
    const findings = { restored: 0, rewritten: 0, damaged: 0, photosLost: 0, loss: stores.database?.loss ?? "" };
    const journal = stores.journal ? await readJournal(stores.journal) : { items: new Map(), files: new Map(), damaged: 0 };
    findings.damaged = journal.damaged;
    const rows = new Map((stores.database ? await stores.database.all("events") : []).map((row) => [row.id, row]));
    const lost = [...journal.items.values()].filter((item) => !rows.has(item.id)).map(waitingRow);
    if (lost.length && stores.database) await stores.database.add(lost);
    findings.restored += lost.length;
    for (const row of lost) rows.set(row.id, row);
    if (stores.journal) {
      for (const row of rows.values()) {
        if (journal.items.has(row.id) || row.state === "sent") continue;
        await stores.journal.line(row);
        findings.rewritten += 1;
      }
    }
    const kept = new Map((stores.database ? await stores.database.all("photos") : []).map((photo) => [photo.id, photo]));
    const photos = [];
    for (const row of rows.values()) {
      const id = photoRow(row, null)?.id;
      if (id) photos.push(await mendPhoto(row, kept.get(id), stores, findings));
    }
    return { rows: [...rows.values()], photos, files: journal.files, findings };
  };
  // Two pages that start at once must not both give the same thing back.
  return navigator.locks ? navigator.locks.request("tablet recovery", mend) : mend();
}
