// Who this tablet is, who is signed in, and with what right its items may be handed in.

import { NoAnswer, ask, tell } from "./door.js";
import { clockOffset, rememberOffset } from "./clock.js";
import { keepBoth, keptIn } from "./kept.js";

/** A key is made anew when less than this is left of it. */
const RENEW_BELOW_MS = 20 * 24 * 60 * 60 * 1000;

/**
 * @typedef {{person: number, key: string, key_id: number, expires: string}} UploadKey
 * @typedef {{device: string, name: string, person: ?{id: number, name: string, role: string}, keys: UploadKey[],
 *   epoch: ?string, needsSignIn: boolean, sessionEnded: boolean, lastSentAt: ?string, client: string, minClient: string}} Known
 */

export class Identity {
  /** @type {Known} */
  known;
  #stores;

  constructor(stores) {
    this.#stores = stores;
  }

  async open() {
    const kept = await keptIn(this.#stores, "identity");
    this.known = {
      device: crypto.randomUUID(), name: "", person: null, keys: [], epoch: null, needsSignIn: false, sessionEnded: false,
      lastSentAt: null, client: "", minClient: "", ...kept,
    };
    rememberOffset(kept?.ahead);
    if (!kept) await this.keep();
    return this;
  }

  /** Both stores; a failure costs a sign-in later, never an answer, so nobody is stopped for it. */
  keep(change = {}) {
    Object.assign(this.known, change);
    return keepBoth(this.#stores, "identity", { ...this.known, ahead: clockOffset() }).catch(() => {});
  }

  get person() {
    return this.known.person?.id ?? null;
  }

  /** The key of whoever is signed in. */
  get key() {
    return this.known.keys.find((key) => key.person === this.person) ?? null;
  }

  /** Asks the office who is signed in. @returns {Promise<?{csrf: string}>} null when nobody is @throws {NoAnswer} */
  async me() {
    const { status, data } = await ask("me", { withSession: true });
    if (status === 401) return null;
    if (status !== 200 || !data.person) throw new NoAnswer("The office did not say who is signed in.");
    if (data.person.id !== this.person) await this.keep({ person: data.person });
    return data;
  }

  /** Gets a key for this tablet and this person. @returns {Promise<boolean>} */
  async register(name) {
    const me = await this.me();
    if (!me) return false;
    const about = { agent: navigator.userAgent, screen: `${screen.width}x${screen.height}`, touch: navigator.maxTouchPoints };
    const { status, data } = await tell(
      "devices",
      { device: this.known.device, name, about },
      { headers: { "X-CSRFToken": me.csrf }, withSession: true },
    );
    if (status !== 200) throw new NoAnswer(data.sentence ?? "This tablet could not be registered.");
    const others = this.known.keys.filter((key) => key.person !== this.person);
    await this.keep({ name, keys: [...others, { person: this.person, ...data }], needsSignIn: false, sessionEnded: false });
    return true;
  }

  /** A key that has enough life left, made now if there is none. */
  async renewKey() {
    const left = this.key ? Date.parse(this.key.expires) - Date.now() : 0;
    if (left < RENEW_BELOW_MS || this.known.needsSignIn) await this.register(this.known.name);
  }

  /**
   * Asks with one right after another until one is accepted: the key of whoever made the item, any other key on this
   * tablet, the session. A key that was refused stays: the refusal may have come from something on the way.
   * @param {number} actor @param {(rights: object) => Promise<{status: number, data: object}>} question
   */
  async withRight(actor, question) {
    const keys = [...this.known.keys].sort((one, other) => (other.person === actor) - (one.person === actor));
    let answer = { status: 401, data: {} };
    for (const { key } of keys) {
      answer = await question({ headers: { Authorization: `Bearer ${key}` } });
      if (answer.status !== 401 && answer.status !== 403) return this.#accepted(answer);
    }
    const me = await this.me();
    if (me) answer = await question({ headers: { "X-CSRFToken": me.csrf }, withSession: true });
    if (answer.status === 401 || answer.status === 403) {
      if (!this.known.needsSignIn) await this.keep({ needsSignIn: true });
      return answer;
    }
    return this.#accepted(answer);
  }

  async #accepted(answer) {
    if (answer.status === 200 && this.known.needsSignIn) await this.keep({ needsSignIn: false });
    return answer;
  }
}
