// Ids made on the device: UUID version 7 (RFC 9562, section 5.7), in rising order within a page even when its clock steps back.

const COUNTER_END = 0x1000;

/**
 * Lays out the 128 bits of a UUIDv7.
 * @param {number} ms Unix time, 48 bits
 * @param {number} randA 12 bits; a counter here (RFC 9562, section 6.2, method 1)
 * @param {Uint8Array} randB 8 bytes, of which the first two bits give way to the variant
 * @returns {string} lower-case, with hyphens
 */
export function layout(ms, randA, randB) {
  const hex = (number, digits) => number.toString(16).padStart(digits, "0");
  const time = hex(ms, 12);
  const tail = [...randB].map((byte, index) => hex(index === 0 ? (byte & 0x3f) | 0x80 : byte, 2)).join("");
  return `${time.slice(0, 8)}-${time.slice(8)}-7${hex(randA, 3)}-${tail.slice(0, 4)}-${tail.slice(4)}`;
}

let lastMs = -1;
let counter = 0;

/** @param {number} [nowMs] @returns {string} an id greater than every one this page made before */
export function newId(nowMs = Date.now()) {
  const [seed] = crypto.getRandomValues(new Uint16Array(1));
  if (nowMs > lastMs) {
    lastMs = nowMs;
    counter = seed & 0x7ff; // the top bit stays free, so that the counter has room to rise
  } else {
    counter += 1;
    if (counter === COUNTER_END) {
      lastMs += 1;
      counter = seed & 0x7ff;
    }
  }
  return layout(lastMs, counter, crypto.getRandomValues(new Uint8Array(8)));
}
