// The last way out: everything that is still kept, in one file that the office takes in through the same door.
//
// A text of JSON lines: {"tablet_export": 1, …}, then {"event": {id, raw, sha256}} and {"photo": {id, sha256, base64}}
// each on a line of its own, at the end {"end": {"events": n, "photos": n}}, so that half a file shows.

/** @param {ArrayBuffer} bytes @returns {Promise<string>} */
function base64(bytes) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(new Blob([bytes]));
  });
}

/**
 * @param {import("./memory.js").Memory} memory
 * @param {(id: string) => Promise<?ArrayBuffer>} readBytes
 * @param {{device: string, client: string, made: string}} about
 * @returns {Promise<Blob>}
 */
export async function exportFile(memory, readBytes, about) {
  const parts = [];
  const add = (line) => parts.push(`${JSON.stringify(line)}\n`);
  add({ tablet_export: 1, ...about });
  for (const { id, raw, sha256 } of memory.events.values()) add({ event: { id, raw, sha256 } });
  let photos = 0;
  for (const { id, sha256 } of memory.photos.values()) {
    const bytes = await readBytes(id);
    if (!bytes) continue;
    add({ photo: { id, sha256, base64: await base64(bytes) } });
    photos += 1;
  }
  add({ end: { events: memory.events.size, photos } });
  return new Blob(parts, { type: "application/x-ndjson" });
}
