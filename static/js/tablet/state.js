// The one interface between the tablet's screens and what is kept, sent and fetched.

import { clockReading } from "./clock.js";
import { exportFile } from "./export.js";
import { keepBoth } from "./kept.js";
import { Listeners, otherPages } from "./listeners.js";
import { endSession, fetchRounds, reportReady, sayOnTheWay } from "./office.js";
import { openAll, photoBytes } from "./opening.js";
import { Outbox } from "./outbox.js";
import { readyChecks } from "./ready.js";
import { Receipts } from "./receipts.js";
import { Recorder } from "./recorder.js";
import { statusOf } from "./status.js";
import { startTriggers } from "./triggers.js";
import { mayUpdate, registerWorker, takeOver } from "./worker_client.js";

export { NotSaved } from "./save.js";

/** The version of the page that is running, as the shell names it. */
const CLIENT = document.documentElement.dataset.version ?? "";

class Store {
  #listeners = new Listeners();
  /** What `openAll` opened: stores, identity, drafts, memory, pack, findings. */
  #kept;
  #recorder;
  #outbox;
  #receipts;
  #message = "";
  #registration = null;
  #tellOthers = otherPages((news) => this.#hear(news));

  async open() {
    this.#kept = await openAll();
    const { stores, identity, memory, files } = this.#kept;
    const shared = { memory, identity, stores, onRows: (news) => this.#spread(news) };
    this.#recorder = new Recorder(shared);
    this.#receipts = new Receipts({ ...shared, files });
    this.#outbox = new Outbox({
      ...shared, receive: this.#receipts, client: CLIENT,
      readBytes: (id) => photoBytes(stores, id), onChange: (message) => this.#say(message),
    });
    await navigator.storage?.persist?.().catch(() => false);
    startTriggers(() => this.#outbox.wake(), () => this.#outbox.sendNow());
    registerWorker(() => this.#listeners.tell("update")).then((registration) => (this.#registration = registration));
    return this;
  }

  /** @param {"status"|"visit"|"update"} name a visit's listener gets its id */
  on(name, listener) {
    return this.#listeners.on(name, listener);
  }

  /** The rounds of whoever is signed in; null when there are none on this tablet. */
  pack() {
    const { pack, identity } = this.#kept;
    return pack?.person.id === identity.person ? pack : null;
  }

  person() {
    return this.#kept.identity.known.person;
  }

  /** @param {string} id @returns {?{visit: object, heads: Map<string, object[]>, conflicts: string[], office: object}} */
  visit(id) {
    const visit = this.pack()?.visits.find((one) => one.visit === id);
    if (!visit) return null;
    const { state, day, missing } = this.#kept.memory.visitRow(id);
    return { visit, ...this.#kept.memory.standing(id, this.#kept.identity.person), office: { state, day, missing } };
  }

  /** Resolves when both stores have it. Rejects with NotSaved when one that should have it does not: keep what was typed. */
  record({ visit, kind, field, value }) {
    return this.#keeping(this.#recorder.record({ visit, kind, field, value }));
  }

  /** @param {{visit: string, file: ArrayBuffer, value: object, id?: string}} words `value` without hash and size */
  addPhoto({ visit, file, value, id = crypto.randomUUID() }) {
    return this.#keeping(this.#recorder.photo({ visit, file, value, id }));
  }

  #keeping(saving) {
    return saving.finally(() => {
      this.#changed();
      this.#outbox.wake();
    });
  }

  /** @returns {Promise<?string>} an address for an image; whoever asked gives it back with URL.revokeObjectURL */
  async photoUrl(id) {
    const bytes = await photoBytes(this.#kept.stores, id);
    return bytes && URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
  }

  draft(visit, field, text) {
    this.#kept.drafts.set(visit, field, text);
  }

  drafts(visit) {
    return this.#kept.drafts.of(visit);
  }

  status() {
    const { identity, ...kept } = this.#kept;
    return statusOf({ ...kept, known: identity.known, key: identity.key, faulty: this.#recorder.isFaulty, message: this.#message });
  }

  sendNow() {
    return this.#outbox.sendNow();
  }

  /** @returns {Promise<Blob>} everything this tablet still keeps, in one file for the office's import */
  exportFile() {
    const about = { device: this.#kept.identity.known.device, client: CLIENT, made: clockReading().at };
    return exportFile(this.#kept.memory, (id) => photoBytes(this.#kept.stores, id), about);
  }

  /** Runs the ready check, and keeps it at the office where that can be reached. */
  async ready() {
    const { minClient } = this.#kept.identity.known;
    const checks = await readyChecks(this.#kept.stores, { key: this.#kept.identity.key, pack: this.pack(), client: CLIENT, minClient });
    reportReady(this.#kept.identity, checks).catch(() => {});
    return checks;
  }

  /** @returns {Promise<boolean>} false when nobody is signed in @throws {NoAnswer} */
  async registerDevice(name) {
    const isDone = await this.#kept.identity.register(name);
    this.#changed();
    if (isDone) this.sendNow();
    return isDone;
  }

  /** Fetches the rounds. @returns {Promise<"new"|"signed out">} @throws {NoAnswer} */
  async refreshPack(days = 2) {
    const rounds = await fetchRounds(this.#kept.identity, days);
    if (rounds) {
      await keepBoth(this.#kept.stores, "pack", rounds);
      this.#kept.pack = rounds;
      await this.#kept.identity.renewKey().catch(() => {});
      await this.#receipts.rounds(rounds);
      this.sendNow();
    }
    this.#changed();
    return rounds ? "new" : "signed out";
  }

  /** Tells the owner that somebody has set out. @returns {Promise<{isTold: boolean, sentence: string}>} @throws {NoAnswer} */
  onTheWay(visit) {
    return sayOnTheWay(this.#kept.identity, visit).finally(() => this.#changed());
  }

  /** Ends the session and takes the rounds off this tablet; what waits is still sent. Not `done` while something waits,
   *  unless `force`. @returns {Promise<{done: boolean, unsent: number}>} @throws {NoAnswer} nothing is changed then */
  async signOut({ force = false } = {}) {
    const { unsent, unsentPhotos } = this.status();
    if (unsent + unsentPhotos > 0 && !force) return { done: false, unsent: unsent + unsentPhotos };
    await endSession(this.#kept.identity);
    await keepBoth(this.#kept.stores, "pack", null);
    this.#kept.pack = null;
    this.#changed();
    return { done: true, unsent: unsent + unsentPhotos };
  }

  /** Takes the waiting version of this page, when nobody is typing and nothing waits, or the person insists. */
  async applyUpdate({ insist = false } = {}) {
    const { unsent, unsentPhotos } = this.status();
    if (!insist && !mayUpdate(unsent + unsentPhotos)) return false;
    return takeOver(this.#registration);
  }

  #spread(news) {
    this.#hear(news);
    this.#tellOthers(news);
  }

  /** Rows from this page or another one. */
  #hear(news) {
    // Still opening: what another page keeps meanwhile is in the stores.
    if (!this.#recorder) return;
    for (const visit of this.#kept.memory.take(news)) this.#listeners.tell("visit", visit);
    this.#changed();
  }

  #say(message) {
    this.#message = message ?? this.#message;
    this.#changed();
  }

  #changed() {
    this.#listeners.tell("status");
  }
}

let opened = null;

/** Opens both stores, compares and mends them, and starts to send; once for a page. @returns {Promise<Store>} */
export function open() {
  return (opened ??= new Store().open());
}
