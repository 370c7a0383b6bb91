// A photo's way to the office: piece by piece from where the office says it stands, so that a broken line costs one piece.

import { sha256 } from "./hash.js";

const PIECE_BYTES = 256 * 1024;
/** After so many answers without progress the photo waits for the next round: a line can be busy for ever otherwise. */
const MOST_WITHOUT_PROGRESS = 5;

/** Too many at once: the office asks everybody to come again a little later. */
const BUSY = new Set([429, 503]);

/**
 * @typedef {{result: "received"|"later"|"busy"|"refused"|"no bytes", sentence: string, waitMs?: ?number}} Outcome
 *   "busy": no other photo would fare better now
 */

/**
 * @param {import("./database.js").PhotoRow} photo
 * @param {(id: string) => Promise<?ArrayBuffer>} readBytes
 * @param {(path: string, words?: object) => Promise<{status: number, data: object, waitMs?: ?number}>} askOffice may throw NoAnswer
 * @returns {Promise<Outcome>} "received" only for an answer whose SHA-256 is this photo's own
 */
export async function sendPhoto(photo, readBytes, askOffice) {
  const path = `photos/${photo.id}`;
  let answer = await askOffice(path);
  let bytes = null;
  let furthest = -1;
  let without = 0;
  while (without < MOST_WITHOUT_PROGRESS) {
    const { status, data, waitMs = null } = answer;
    if (status === 401 || status === 403) return { result: "refused", sentence: data.sentence ?? "" };
    if (BUSY.has(status)) return { result: "busy", sentence: data.sentence ?? "", waitMs };
    if (status !== 200 && status !== 409) return { result: "later", sentence: data.sentence ?? "" };
    if (data.done) {
      const isSame = data.sha256 === photo.sha256;
      return { result: isSame ? "received" : "later", sentence: isSame ? "" : "The office holds other bytes under a photo's id." };
    }
    if (!Number.isInteger(data.offset) || data.offset < 0) return { result: "later", sentence: data.sentence ?? "" };
    bytes ??= await whole(photo, readBytes);
    if (!bytes) return { result: "no bytes", sentence: "" };
    without = data.offset > furthest ? 0 : without + 1;
    furthest = Math.max(furthest, data.offset);
    answer = await askOffice(path, {
      method: "PATCH",
      headers: {
        "Content-Type": "application/offset+octet-stream",
        "Upload-Offset": String(data.offset),
        "Upload-Length": String(bytes.byteLength),
        "Upload-Sha256": photo.sha256,
      },
      body: new Uint8Array(bytes, data.offset, Math.max(0, Math.min(PIECE_BYTES, bytes.byteLength - data.offset))),
    });
  }
  return { result: "later", sentence: "" };
}

async function whole(photo, readBytes) {
  const bytes = await readBytes(photo.id);
  return bytes && (await sha256(bytes)) === photo.sha256 ? bytes : null;
}
