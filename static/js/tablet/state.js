// The one interface between the tablet's screens and what is kept, sent and fetched.

import { clockReading } from "./clock.js";
import { openDatabase } from "./database.js";
import { NoAnswer, ask, tell } from "./door.js";
import { Drafts } from "./drafts.js";
import { exportFile } from "./export.js";
import { sha256 } from "./hash.js";
import { Identity } from "./identity.js";
import { newId } from "./ids.js";
import { openJournal } from "./journal.js";
import { keepBoth, keptIn } from "./kept.js";
import { Listeners, otherPages } from "./listeners.js";
import { Memory } from "./memory.js";
import { Outbox } from "./outbox.js";
import { readyChecks } from "./ready.js";
import { Receipts } from "./receipts.js";
import { photoRow, recover, waitingRow } from "./recovery.js";
import { NotSaved, saveEvent, savePhoto } from "./save.js";
import { statusOf } from "./status.js";
import { startTriggers } from "./triggers.js";
import { mayUpdate, registerWorker, takeOver } from "./worker_client.js";

export { NotSaved };

/** The version of the page that is running, as the shell names it. */
const CLIENT = document.documentElement.dataset.version ?? "";

class Store {
  #listeners = new Listeners();
  #memory = new Memory();
  #stores;
  #identity;
  #drafts;
  #outbox;
  #receipts;
  #findings;
  #pack = null;
  #message = "";
  #faulty = false;
  #registration = null;
  #saving = Promise.resolve();
  #tellOthers = otherPages((news) => this.#hear(news));

  async open() {
    const [database, journal] = await Promise.all([openDatabase({ onBlocking: () => location.reload() }), openJournal()]);
    this.#stores = { database, journal };
    this.#identity = await new Identity(this.#stores).open();
    this.#drafts = await new Drafts(database).open();
    const { rows, photos, files, findings } = await recover(this.#stores);
    this.#findings = findings;
    for (const row of rows) this.#memory.addEvent(row);
    for (const photo of photos) this.#memory.addPhoto(photo);
    for (const row of (await database?.all("visits")) ?? []) this.#memory.visits.set(row.visit, row);
    const pack = await keptIn(this.#stores, "pack");
    this.#pack = pack;
    this.#receipts = new Receipts({
      memory: this.#memory, identity: this.#identity, stores: this.#stores, files, onRows: (news) => this.#spread(news),
    });
    this.#outbox = new Outbox({
      memory: this.#memory, identity: this.#identity, receive: this.#receipts, client: CLIENT,
      readBytes: (id) => this.#photoBytes(id), onChange: (message) => this.#say(message),
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
    return this.#pack && this.#pack.person.id === this.#identity.person ? this.#pack : null;
  }

  person() {
    return this.#identity.known.person;
  }

  /** @param {string} id @returns {?{visit: object, heads: Map<string, object[]>, conflicts: string[], office: object}} */
  visit(id) {
    const visit = this.pack()?.visits.find((one) => one.visit === id);
    if (!visit) return null;
    const { state, missing } = this.#memory.visitRow(id);
    return { visit, ...this.#memory.standing(id, this.#identity.person), office: { state, missing } };
  }

  /**
   * Keeps an answer in both stores and resolves then. Rejects with NotSaved when a copy that should have been made was
   * not; the page keeps what was typed.
   */
  record({ visit, kind, field, value }) {
    return this.#inTurn(async () => {
      const row = await this.#rowOf({ visit, kind, field, value });
      return this.#saved(row, null, () => saveEvent(row, this.#stores));
    });
  }

  /** @param {{visit: string, file: ArrayBuffer, value: object, id?: string}} words `value` without hash and size */
  addPhoto({ visit, file, value, id = crypto.randomUUID() }) {
    return this.#inTurn(async () => {
      const described = { ...value, sha256: await sha256(file), bytes: file.byteLength };
      const row = await this.#rowOf({ visit, kind: "photo", field: `photo:${id}`, value: described });
      const photo = photoRow(row, file);
      return { ...(await this.#saved(row, photo, () => savePhoto(photo, row, this.#stores))), id };
    });
  }

  /** @returns {Promise<?string>} an address for an image; whoever asked gives it back with URL.revokeObjectURL */
  async photoUrl(id) {
    const bytes = await this.#photoBytes(id);
    return bytes && URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
  }

  draft(visit, field, text) {
    this.#drafts.set(visit, field, text);
  }

  drafts(visit) {
    return this.#drafts.of(visit);
  }

  status() {
    return statusOf({
      memory: this.#memory, stores: this.#stores, known: this.#identity.known, key: this.#identity.key,
      findings: this.#findings, faulty: this.#faulty, message: this.#message,
    });
  }

  sendNow() {
    return this.#outbox.sendNow();
  }

  /** @returns {Promise<Blob>} everything this tablet still keeps, in one file for the office's import */
  exportFile() {
    const about = { device: this.#identity.known.device, client: CLIENT, made: clockReading().at };
    return exportFile(this.#memory, (id) => this.#photoBytes(id), about);
  }

  /** Runs the ready check, and keeps it at the office where that can be reached. */
  async ready() {
    const { minClient } = this.#identity.known;
    const checks = await readyChecks(this.#stores, { key: this.#identity.key, pack: this.pack(), client: CLIENT, minClient });
    const report = async () => {
      const me = await this.#identity.me();
      const words = { headers: { "X-CSRFToken": me?.csrf }, withSession: true };
      if (me) await tell("ready", { device: this.#identity.known.device, checks }, words);
    };
    report().catch(() => {});
    return checks;
  }

  /** @returns {Promise<boolean>} false when nobody is signed in @throws {NoAnswer} */
  async registerDevice(name) {
    const isDone = await this.#identity.register(name);
    this.#changed();
    if (isDone) this.sendNow();
    return isDone;
  }

  /** Fetches the rounds. @returns {Promise<"new"|"signed out">} @throws {NoAnswer} */
  async refreshPack(days = 2) {
    const me = await this.#identity.me();
    if (!me) {
      await this.#identity.keep({ needsSignIn: true });
      this.#changed();
      return "signed out";
    }
    const { status, data } = await ask(`pack?days=${days}`, { withSession: true });
    if (status !== 200 || !Array.isArray(data.visits)) throw new NoAnswer(data.sentence ?? "The rounds could not be fetched.");
    await keepBoth(this.#stores, "pack", data);
    this.#pack = data;
    await this.#identity.renewKey().catch(() => {});
    await this.#receipts.rounds(data);
    this.#changed();
    this.sendNow();
    return "new";
  }

  /**
   * Ends the session and shows nobody's rounds any more. What waits is kept and still sent.
   * @returns {Promise<{done: boolean, unsent: number}>} not done while something waits, unless `force`
   */
  async signOut({ force = false } = {}) {
    const { unsent, unsentPhotos } = this.status();
    if (unsent + unsentPhotos > 0 && !force) return { done: false, unsent: unsent + unsentPhotos };
    const me = await this.#identity.me().catch(() => null);
    if (me) {
      const body = new URLSearchParams({ csrfmiddlewaretoken: me.csrf });
      await fetch("/sign-out/", { method: "POST", body, credentials: "same-origin", redirect: "manual" }).catch(() => {});
    }
    await this.#identity.keep({ person: null });
    this.#changed();
    return { done: true, unsent: unsent + unsentPhotos };
  }

  /** Takes the waiting version of this page, when nobody is typing and nothing waits, or the person insists. */
  async applyUpdate({ insist = false } = {}) {
    const { unsent, unsentPhotos } = this.status();
    if (!insist && !mayUpdate(unsent + unsentPhotos)) return false;
    return takeOver(this.#registration);
  }

  /** Bases are what the author saw, so one save waits for the one before it. */
  #inTurn(save) {
    const turn = this.#saving.then(save);
    this.#saving = turn.catch(() => {});
    return turn;
  }

  async #rowOf({ visit, kind, field, value }) {
    const actor = this.#identity.person;
    if (actor === null) throw new Error("Nobody is signed in on this tablet.");
    const heads = this.#memory.standing(visit, actor).heads.get(field) ?? [];
    const bases = heads.map((head) => head.id);
    const event = { v: 1, id: newId(), visit, device: this.#identity.known.device, actor, kind, field, value, bases, ...clockReading() };
    const raw = JSON.stringify(event);
    return waitingRow({ id: event.id, raw, sha256: await sha256(raw) });
  }

  async #saved(row, photo, save) {
    const spread = () => this.#spread({ events: [row], photos: photo ? [{ ...photo, bytes: null }] : [] });
    try {
      const copies = await save();
      this.#faulty = false;
      spread();
      this.#outbox.wake();
      return { event: this.#memory.parse(row.raw), copies };
    } catch (failure) {
      // In one store it is there, and will be found again: what is typed next must know of it.
      if (failure.copies?.database || failure.copies?.journal) spread();
      this.#faulty = true;
      this.#changed();
      throw failure;
    }
  }

  async #photoBytes(id) {
    const row = await this.#stores.database?.get("photos", id).catch(() => null);
    return row?.bytes ?? (await this.#stores.journal?.readPhoto(id).catch(() => null)) ?? null;
  }

  #spread(news) {
    this.#hear(news);
    this.#tellOthers(news);
  }

  /** Takes rows into the working copy, from this page or another one. */
  #hear({ events = [], photos = [], visits = [], forgotten = null }) {
    const touched = new Set();
    for (const row of events) this.#memory.addEvent(row), touched.add(row.visit);
    for (const row of photos) this.#memory.addPhoto(row), touched.add(row.visit);
    for (const row of visits) this.#memory.visits.set(row.visit, row), touched.add(row.visit);
    for (const id of forgotten?.events ?? []) this.#memory.events.delete(id);
    for (const id of forgotten?.photos ?? []) this.#memory.photos.delete(id);
    for (const id of forgotten?.visits ?? []) this.#memory.visits.delete(id);
    for (const visit of touched) this.#listeners.tell("visit", visit);
    this.#changed();
  }

  #say(message) {
    this.#message = message ?? this.#message;
    this.#changed();
  }

  #changed() {
    if (this.#identity) this.#listeners.tell("status");
  }
}

let opened = null;

/** Opens both stores, compares and mends them, and starts to send; once for a page. @returns {Promise<Store>} */
export function open() {
  opened ??= new Store().open();
  return opened;
}
