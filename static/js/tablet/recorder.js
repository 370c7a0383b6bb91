// Makes events of what was said, and keeps them: one after another, because each names the answers its author saw.

import { clockReading } from "./clock.js";
import { sha256 } from "./hash.js";
import { newId } from "./ids.js";
import { photoRow, waitingRow } from "./recovery.js";
import { saveEvent, savePhoto } from "./save.js";

export class Recorder {
  #turn = Promise.resolve();
  /** Saves that reached one store only: `{row, photo, copies}`. */
  #half = [];
  /** Whether something stands in fewer stores than it should. */
  isFaulty = false;

  /**
   * @param {{memory: import("./memory.js").Memory, identity: import("./identity.js").Identity,
   *   stores: import("./save.js").Stores, onRows: (news: object) => void}} parts
   */
  constructor(parts) {
    Object.assign(this, parts);
  }

  /** @returns {Promise<{event: object, copies: object}>} @throws {import("./save.js").NotSaved} */
  record(words) {
    return this.#inTurn(async () => {
      const row = await this.#rowOf(words);
      return this.#save(row, null);
    });
  }

  /** A photo and its event. @returns {Promise<{event: object, copies: object, id: string}>} */
  photo({ visit, file, value, id }) {
    return this.#inTurn(async () => {
      const described = { ...value, sha256: await sha256(file), bytes: file.byteLength };
      const row = await this.#rowOf({ visit, kind: "photo", field: `photo:${id}`, value: described });
      return { ...(await this.#save(row, photoRow(row, file))), id };
    });
  }

  #inTurn(save) {
    const turn = this.#turn.then(save);
    this.#turn = turn.catch(() => {});
    return turn;
  }

  async #rowOf({ visit, kind, field, value }) {
    const actor = this.identity.person;
    if (actor === null) throw new Error("Nobody is signed in on this tablet.");
    const bases = (this.memory.standing(visit, actor).heads.get(field) ?? []).map((head) => head.id);
    const { device } = this.identity.known;
    const event = { v: 1, id: newId(), visit, device, actor, kind, field, value, bases, ...clockReading() };
    const raw = JSON.stringify(event);
    return waitingRow({ id: event.id, raw, sha256: await sha256(raw) });
  }

  async #save(row, photo) {
    const spread = () => this.onRows({ events: [row], photos: photo ? [{ ...photo, bytes: null }] : [] });
    try {
      const copies = await (photo ? savePhoto(photo, row, this.stores) : saveEvent(row, this.stores));
      await this.#mend();
      spread();
      return { event: this.memory.parse(row.raw), copies };
    } catch (failure) {
      this.isFaulty = true;
      // In one store it is there and will be found again, so what is said next must know of it.
      if (failure.copies?.database || failure.copies?.journal) {
        this.#half.push({ row, photo, copies: failure.copies });
        spread();
      }
      throw failure;
    }
  }

  /** A save went well again: what reached one store only gets its other copy. */
  async #mend() {
    const { database, journal } = this.stores;
    while (this.#half.length) {
      const [{ row, photo, copies }] = this.#half;
      try {
        if (!copies.journal && photo) await journal?.writePhoto(photo.id, photo.bytes);
        if (!copies.journal) await journal?.line(row);
        if (!copies.database) await database?.add([row], photo ? [photo] : []);
      } catch {
        return;
      }
      this.#half.shift();
    }
    this.isFaulty = false;
  }
}
