// Hands in what waits: events before photos, oldest first, by one page at a time. Only a receipt with an item's own
// SHA-256 clears it; a status code, an answer cut in half or another's page in between never does.

import { tell } from "./door.js";
import { sendPhoto } from "./photos_upload.js";

const MOST_ITEMS = 50;
const MOST_BYTES = 180_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 5 * 60_000;

export class Outbox {
  #timer = null;
  #failures = 0;
  #notBefore = 0;
  #running = null;
  #again = false;
  /** How long the office asked for patience in its last answer; null when it did not say. */
  #askedMs = null;

  /**
   * @param {{memory: import("./memory.js").Memory, identity: import("./identity.js").Identity,
   *   receive: import("./receipts.js").Receipts, readBytes: (id: string) => Promise<?ArrayBuffer>,
   *   client: string, onChange: (message?: string) => void}} parts a message stands until the next try
   */
  constructor(parts) {
    Object.assign(this, parts);
  }

  /** Sends soon, unless an earlier failure asked for patience. */
  wake() {
    if (performance.now() < this.#notBefore) return;
    this.#start(true);
  }

  /** Sends now, whatever failed before. Resolves when nothing waits, or when it failed again. */
  sendNow() {
    this.#failures = 0;
    this.#notBefore = 0;
    return this.#start(false);
  }

  #start(ifAvailable) {
    if (this.#running) {
      this.#again = true;
      return this.#running;
    }
    this.#running = this.#run(ifAvailable).finally(() => {
      this.#running = null;
      this.onChange();
    });
    return this.#running;
  }

  async #run(ifAvailable) {
    do {
      this.#again = false;
      this.#askedMs = null;
      let isClear;
      const drain = async (lock) => (lock === null ? true : this.#drain());
      try {
        isClear = navigator.locks ? await navigator.locks.request("tablet outbox", { ifAvailable }, drain) : await this.#drain();
      } catch {
        isClear = false; // no answer: nothing is known, everything stays
      }
      if (!isClear) {
        this.#waitLonger();
        return;
      }
      this.#failures = 0;
      this.#notBefore = 0;
    } while (this.#again);
  }

  /** As long as the office asked for, and a little more, so that a hundred tablets do not come back in one moment; longer
   *  with every failure where it said nothing. */
  #waitLonger() {
    this.#failures += 1;
    const most = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** this.#failures);
    const wait = this.#askedMs === null ? most * (0.5 + Math.random() / 2) : this.#askedMs * (1 + Math.random() / 2);
    this.#notBefore = performance.now() + wait;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#start(true), wait + 1);
  }

  /** @returns {Promise<boolean>} whether everything that waited has its receipt @throws {NoAnswer} */
  async #drain() {
    this.onChange("");
    const areEventsSent = await this.#sendEvents();
    return areEventsSent !== "later" && (await this.#sendPhotos()) && areEventsSent;
  }

  /** @returns {Promise<boolean|"later">} "later": the office can't be talked to at the moment */
  async #sendEvents() {
    const leftOut = new Set();
    let most = MOST_ITEMS;
    for (;;) {
      const waiting = this.memory.waitingEvents().filter((row) => !leftOut.has(row.id));
      if (waiting.length === 0) return leftOut.size === 0;
      const batch = this.#batch(waiting, most);
      const items = batch.map(({ id, raw, sha256 }) => ({ id, raw, sha256 }));
      const content = { items, waiting: this.#unsent(), client: this.client, device: this.identity.known.device };
      const offer = (rights) => tell("events", content, rights);
      const { status, data, waitMs = null } = await this.identity.withRight(this.#actorOf(batch[0]), offer);
      if (status === 200) {
        const received = await this.receive.answer(data);
        for (const row of batch) if (!received.has(row.id)) leftOut.add(row.id);
      } else if ((status === 413 || status === 400) && batch.length > 1) {
        most = Math.max(1, Math.min(data.most_items ?? most, Math.floor(batch.length / 2)));
      } else if (status === 413 || status === 400) {
        leftOut.add(batch[0].id); // the others are not held up by it
        this.onChange(data.sentence);
      } else {
        this.#askedMs = waitMs;
        this.onChange(data.sentence);
        return "later";
      }
    }
  }

  /** The oldest of one person's items, as many as one request may hold; at least one. */
  #batch(waiting, most) {
    const actor = this.#actorOf(waiting[0]);
    const batch = [];
    let bytes = 0;
    for (const row of waiting) {
      const size = JSON.stringify(row.raw).length * 1.1 + 200;
      if (batch.length === most || (batch.length && (bytes + size > MOST_BYTES || this.#actorOf(row) !== actor))) break;
      batch.push(row);
      bytes += size;
    }
    return batch;
  }

  async #sendPhotos() {
    let areAllSent = true;
    for (const photo of this.memory.waitingPhotos()) {
      const row = this.memory.events.get(photo.event);
      if (row?.state === "waiting") continue; // its event comes first
      const { result, sentence, waitMs = null } = await sendPhoto(photo, this.readBytes, (path, words) =>
        this.identity.withRight(row ? this.#actorOf(row) : 0, (rights) => this.receive.ask(path, words, rights)),
      );
      if (result === "received") await this.receive.photo(photo.id, "sent");
      else if (result === "no bytes") await this.receive.photo(photo.id, "gone");
      else areAllSent = false;
      if (sentence) this.onChange(sentence);
      if (result === "busy") this.#askedMs = waitMs;
      if (result === "busy" || result === "refused") return false;
    }
    return areAllSent;
  }

  #actorOf(row) {
    return this.memory.parse(row.raw).actor;
  }

  #unsent() {
    return this.memory.waitingEvents().length + this.memory.waitingPhotos().length;
  }
}
