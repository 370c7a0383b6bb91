// What is being typed and no answer yet. Written at once to the page's small store, which also holds when the page is
// closed in the same breath, and to the database a moment later.

const PREFIX = "tablet draft ";
const PAUSE_MS = 250;

export class Drafts {
  #texts = new Map();
  #database;
  #timers = new Map();

  constructor(database) {
    this.#database = database;
  }

  async open() {
    for (const row of (await this.#database?.all("drafts")) ?? []) this.#texts.set(keyOf(row.visit, row.field), row);
    try {
      for (const [key, text] of Object.entries(localStorage)) {
        if (key.startsWith(PREFIX)) this.#texts.set(key.slice(PREFIX.length), JSON.parse(text));
      }
    } catch {
      // Denied: the database has them.
    }
    return this;
  }

  /** @param {string} visit @param {string} field @param {string} text empty takes the draft away */
  set(visit, field, text) {
    const key = keyOf(visit, field);
    const row = { visit, field, text };
    if (text === "") this.#texts.delete(key);
    else this.#texts.set(key, row);
    try {
      if (text === "") localStorage.removeItem(PREFIX + key);
      else localStorage.setItem(PREFIX + key, JSON.stringify(row));
    } catch {
      // Full or denied: the database follows in a moment.
    }
    clearTimeout(this.#timers.get(key));
    this.#timers.set(key, setTimeout(() => this.#write(row), PAUSE_MS));
  }

  #write(row) {
    const writing = row.text === "" ? this.#database?.remove("drafts", [row.visit, row.field]) : this.#database?.put("drafts", row);
    writing?.catch(() => {});
  }

  /** @returns {Map<string, string>} text by field */
  of(visit) {
    return new Map([...this.#texts.values()].filter((row) => row.visit === visit).map((row) => [row.field, row.text]));
  }
}

const keyOf = (visit, field) => JSON.stringify([visit, field]);
