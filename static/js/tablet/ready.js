// The morning's ready check: what has to hold before anybody goes down a basement's stairs with this tablet.

import { clockOffset } from "./clock.js";
import { isComplete } from "./worker_client.js";

const LEAST_FREE_BYTES = 500_000_000;
const MOST_CLOCK_MS = 2 * 60_000;
const LEAST_KEY_MS = 24 * 60 * 60 * 1000;

/** @typedef {{code: string, ok: boolean, sentence: string}} Check */

const isInstalled = () => matchMedia("(display-mode: standalone)").matches || navigator.standalone === true;
const isPad = () => /iPad|Macintosh/.test(navigator.userAgent) && navigator.maxTouchPoints > 1;
const told = (code, ok, good, bad) => ({ code, ok: Boolean(ok), sentence: ok ? good : bad });

async function writesAndReads(store) {
  if (!store) return false;
  const word = crypto.randomUUID();
  try {
    await store.keep("trial", word);
    return (await store.kept("trial")) === word;
  } catch {
    return false;
  }
}

async function storageChecks({ database, journal }) {
  const estimate = (await navigator.storage?.estimate?.().catch(() => null)) ?? null;
  const free = estimate ? estimate.quota - estimate.usage : null;
  const isPersistent = (await navigator.storage?.persisted?.().catch(() => false)) ?? false;
  return [
    told("database", await writesAndReads(database), "The first copy is written and read back.",
      "The first copy can't be written. Free some space, leave private browsing, and open this page again."),
    told("journal", await writesAndReads(journal), "The second copy is written and read back.",
      "There is no second copy on this tablet. Save a backup file after each stop."),
    told("persistent", isPersistent, "The browser has promised to keep what is saved.",
      "The browser has not promised to keep what is saved. Install this page on the home screen."),
    told("space", free === null || free >= LEAST_FREE_BYTES, "There is room enough.",
      `Only ${Math.round((free ?? 0) / 1e6)} MB are free; 500 MB are wanted. Remove films or photos from this tablet.`),
  ];
}

async function hasCamera() {
  const devices = (await navigator.mediaDevices?.enumerateDevices?.().catch(() => [])) ?? [];
  return devices.some((device) => device.kind === "videoinput");
}

/**
 * @param {import("./save.js").Stores} stores
 * @param {{key: ?{expires: string}, pack: ?object, client: string, minClient: string}} facts
 * @returns {Promise<Check[]>}
 */
export async function readyChecks(stores, { key, pack, client, minClient }) {
  const ahead = clockOffset();
  const minutes = Math.round(Math.abs(ahead ?? 0) / 60_000);
  const keyLeft = key ? Date.parse(key.expires) - Date.now() : 0;
  return [
    told("worker", await isComplete(), "This page opens without signal.",
      "This page is not complete on this tablet yet. Stay in signal, and open it again."),
    ...(await storageChecks(stores)),
    told("installed", isInstalled() || !isPad(), "This page may stay on this tablet.",
      "On an iPad this page must be added to the home screen and opened from there."),
    told("clock", ahead !== null && Math.abs(ahead) <= MOST_CLOCK_MS, "The clock is right.",
      ahead === null ? "The clock has not been compared with the office's yet." : `The clock is ${minutes} minutes ${ahead > 0 ? "fast" : "slow"}. Set it in the tablet's settings.`),
    told("camera", await hasCamera(), "There is a camera.", "No camera was found. Allow this page to use it."),
    told("version", !minClient || client === minClient, "This page is new enough.", "There is a newer page. Take it before the first stop."),
    told("key", keyLeft > LEAST_KEY_MS, "This tablet may send its work without a sign-in.", "Sign in, so that this tablet can send its work by itself."),
    told("rounds", pack !== null, "The rounds are on this tablet.", "No rounds are on this tablet yet. Fetch them while there is signal."),
  ];
}
