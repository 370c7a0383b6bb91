// Every question to the office: with a time-out, and an answer that is whole or none.

import { hearServer } from "./clock.js";

const ROOT = new URL("/tablet/api/", location.href).href;
/** Longer than the office takes for anything: what is given up too early is done there all the same, for nobody. */
const PATIENCE_MS = 30_000;
/** Whoever asks for more patience than this is asked again all the same: it may be something on the way that speaks. */
const LONGEST_WAIT_MS = 5 * 60_000;
/** The slowest line that a chunk is still waited for on, bytes per second. */
const SLOWEST_LINE = 4_000;

/** No answer, or half of one: nothing is known about what arrived. Ask again later. */
export class NoAnswer extends Error {
  name = "NoAnswer";
}

/**
 * @param {string} path below /tablet/api/
 * @param {{method?: string, headers?: object, body?: string|Uint8Array, withSession?: boolean}} [words]
 *   without a session no cookie goes along: an upload key speaks for itself
 * @returns {Promise<{status: number, data: object, etag: ?string, waitMs: ?number}>} `waitMs`: how long the office asks
 *   not to be asked again
 * @throws {NoAnswer}
 */
export async function ask(path, { method = "GET", headers = {}, body, withSession = false } = {}) {
  const askedMs = Date.now();
  const weight = body?.length ?? 0;
  const signal = AbortSignal.timeout(PATIENCE_MS + (weight / SLOWEST_LINE) * 1000);
  const credentials = withSession ? "same-origin" : "omit";
  try {
    const answer = await fetch(ROOT + path, { method, headers, body, signal, credentials, cache: "no-store", redirect: "error" });
    const data = answer.status === 304 ? {} : await answer.json();
    if (data === null || typeof data !== "object") throw new NoAnswer("The answer is not one of the office's.");
    if (typeof data.now === "string") hearServer(data.now, askedMs, Date.now());
    return { status: answer.status, data, etag: answer.headers.get("ETag"), waitMs: waitOf(answer.headers.get("Retry-After")) };
  } catch (error) {
    throw error instanceof NoAnswer ? error : new NoAnswer(error.message, { cause: error });
  }
}

/** The wait that a `Retry-After` asks for: seconds, or a moment (RFC 9110, 10.2.3); null without one that can be read. */
export function waitOf(words) {
  const isCount = /^\d+$/.test(words ?? "");
  if (!isCount && !/ GMT$/.test(words ?? "")) return null;
  const ms = isCount ? Number(words) * 1000 : Date.parse(words) - Date.now();
  return Number.isFinite(ms) ? Math.min(LONGEST_WAIT_MS, Math.max(0, ms)) : null;
}

/** The same with a JSON body. */
export function tell(path, content, { headers = {}, withSession = false } = {}) {
  return ask(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", ...headers },
    body: JSON.stringify(content),
    withSession,
  });
}
