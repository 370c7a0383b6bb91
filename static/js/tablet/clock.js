// The device's clock: read, written down, compared with the office's, and never trusted to decide anything.

/** How far this device's clock is ahead of the server's, in milliseconds; null before the first answer. */
let aheadMs = null;

/** Takes over what an earlier page load knew. @param {?number} kept milliseconds */
export function rememberOffset(kept) {
  if (aheadMs === null && Number.isFinite(kept)) aheadMs = kept;
}

/** @returns {?number} milliseconds by which this device is ahead of the server; null when never heard */
export function clockOffset() {
  return aheadMs;
}

/**
 * Learns the offset from an answer. Half of the way there and back is taken as the way back.
 * @param {string} serverNow ISO time in the answer
 * @param {number} askedMs `Date.now()` when the question left
 * @param {number} heardMs `Date.now()` when the answer was there
 */
export function hearServer(serverNow, askedMs, heardMs) {
  const server = Date.parse(serverNow);
  if (Number.isFinite(server)) aheadMs = Math.round((askedMs + heardMs) / 2 - server);
}

/** @param {number} ms @returns {string} ISO time with this device's offset from UTC, to the millisecond */
export function isoWithOffset(ms) {
  const moment = new Date(ms);
  const offsetMinutes = -moment.getTimezoneOffset();
  const local = new Date(ms + offsetMinutes * 60_000).toISOString().slice(0, -1);
  const two = (count) => String(count).padStart(2, "0");
  const size = Math.abs(offsetMinutes);
  return `${local}${offsetMinutes < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

/** What every event says about time. @returns {{at: string, zone: string, mono: number, clock_off: ?number}} */
export function clockReading() {
  return {
    at: isoWithOffset(Date.now()),
    zone: Intl.DateTimeFormat().resolvedOptions().timeZone ?? "",
    mono: Math.round(performance.now()),
    clock_off: aheadMs,
  };
}
