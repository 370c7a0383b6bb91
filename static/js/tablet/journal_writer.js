// The journal's own thread: files in the origin's private file system, written through and flushed before the answer.
//
// One new file per page load and never an old one again: appending behind a torn tail is how whole stores were lost.
// This file imports nothing, because a worker's address is the one thing that the static file storage can't rewrite.

const text = new TextEncoder();
let journalFolder, photoFolder, keptFolder;
let handle = null;
let ownName = "";
let end = 0;

async function open() {
  const root = await navigator.storage.getDirectory();
  journalFolder = await root.getDirectoryHandle("journal", { create: true });
  photoFolder = await root.getDirectoryHandle("photos", { create: true });
  keptFolder = await root.getDirectoryHandle("kept", { create: true });
  ownName = `${Date.now()}-${crypto.randomUUID()}.ndjson`;
  const file = await journalFolder.getFileHandle(ownName, { create: true });
  handle = await file.createSyncAccessHandle();
  // Held for the life of this page, so that no other one reads or clears away a file that is still being written.
  if (navigator.locks) await new Promise(holdFor);
}

function holdFor(isHeld) {
  navigator.locks.request(lockOf(ownName), () => {
    isHeld();
    return new Promise(() => {});
  });
}

const lockOf = (name) => `tablet journal ${name}`;

function append({ line }) {
  const bytes = text.encode(`${line}\n`);
  let written;
  try {
    written = handle.write(bytes, { at: end });
    if (written !== bytes.length) throw new Error("The journal is full.");
    handle.flush();
  } catch (error) {
    handle.truncate(end);
    throw error;
  }
  end += written;
}

async function writeWhole(folder, name, bytes) {
  const file = await folder.getFileHandle(name, { create: true });
  const writing = await file.createSyncAccessHandle();
  try {
    writing.truncate(0);
    if (writing.write(bytes, { at: 0 }) !== bytes.byteLength) throw new Error("There is no room for this file.");
    writing.flush();
  } finally {
    writing.close();
  }
}

async function readWhole(folder, name) {
  try {
    return await (await (await folder.getFileHandle(name)).getFile()).arrayBuffer();
  } catch (error) {
    if (error.name === "NotFoundError") return null;
    throw error;
  }
}

async function removed(folder, name) {
  await folder.removeEntry(name).catch((error) => {
    if (error.name !== "NotFoundError") throw error;
  });
}

async function namesIn(folder) {
  const names = [];
  for await (const name of folder.keys()) names.push(name);
  return names.sort();
}

/** Every file of earlier page loads: `[{name, text}]`; one that can't be read has `text: null`. Empty ones go. */
async function readJournals() {
  const held = navigator.locks ? new Set((await navigator.locks.query()).held.map((lock) => lock.name)) : new Set();
  const files = [];
  for (const name of await namesIn(journalFolder)) {
    if (name === ownName || held.has(lockOf(name))) continue;
    try {
      const bytes = await readWhole(journalFolder, name);
      if (bytes === null || bytes.byteLength === 0) await removed(journalFolder, name);
      else files.push({ name, text: new TextDecoder().decode(bytes) });
    } catch {
      files.push({ name, text: null });
    }
  }
  return files;
}

/** A small text kept beside the journal, each time in a new file; earlier ones go when the new one stands. */
async function keep({ name, content }) {
  const file = `${name}-${String(Date.now()).padStart(15, "0")}-${crypto.randomUUID()}`;
  await writeWhole(keptFolder, file, text.encode(content));
  for (const other of await namesIn(keptFolder)) {
    if (other.startsWith(`${name}-`) && other !== file) await removed(keptFolder, other);
  }
}

async function kept({ name }) {
  const found = (await namesIn(keptFolder)).filter((file) => file.startsWith(`${name}-`)).reverse();
  for (const file of found) {
    const bytes = await readWhole(keptFolder, file).catch(() => null);
    const content = bytes && new TextDecoder().decode(bytes);
    try {
      JSON.parse(content);
      if (content) return content;
    } catch {
      // A torn file: the one before it still stands.
    }
  }
  return null;
}

const DUTIES = {
  open,
  append,
  readJournals,
  keep,
  kept,
  removeJournal: ({ name }) => (name === ownName ? undefined : removed(journalFolder, name)),
  writePhoto: ({ id, bytes }) => writeWhole(photoFolder, id, new Uint8Array(bytes)),
  readPhoto: ({ id }) => readWhole(photoFolder, id),
  removePhoto: ({ id }) => removed(photoFolder, id),
};

// One after another: a save never overtakes the one before it.
let queue = Promise.resolve();
addEventListener("message", ({ data: { number, duty, words } }) => {
  queue = queue.then(async () => {
    try {
      postMessage({ number, answer: await DUTIES[duty](words) });
    } catch (error) {
      postMessage({ number, failure: `${error.name}: ${error.message}` });
    }
  });
});
