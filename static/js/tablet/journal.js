// The page's side of the journal: asks the writer's thread and waits for its word. One of the two copies of everything.

const PATIENCE_MS = 15_000;

/** @typedef {{name: string, text: ?string}} JournalFile */

export class Journal {
  #worker;
  #asked = new Map();
  #number = 0;

  constructor(worker) {
    this.#worker = worker;
    worker.addEventListener("message", ({ data }) => this.#hear(data));
    worker.addEventListener("error", (event) => this.#giveUp(event.message || "The journal's thread has ended."));
  }

  #hear({ number, answer, failure }) {
    const asked = this.#asked.get(number);
    if (!asked) return;
    this.#asked.delete(number);
    clearTimeout(asked.timer);
    if (failure === undefined) asked.resolve(answer);
    else asked.reject(new Error(failure));
  }

  #giveUp(reason) {
    for (const number of [...this.#asked.keys()]) this.#hear({ number, failure: reason });
  }

  #ask(duty, words = {}) {
    const number = ++this.#number;
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => this.#hear({ number, failure: "The journal did not answer." }), PATIENCE_MS);
      this.#asked.set(number, { resolve, reject, timer });
      this.#worker.postMessage({ number, duty, words });
    });
  }

  open = () => this.#ask("open");
  /** @param {{id: string, raw: string, sha256: string}} item resolves when the line is flushed */
  line = (item) => this.#ask("append", { line: JSON.stringify({ id: item.id, raw: item.raw, sha256: item.sha256 }) });
  /** @returns {Promise<JournalFile[]>} */
  files = () => this.#ask("readJournals");
  remove = (name) => this.#ask("removeJournal", { name });
  /** @param {string} id @param {ArrayBuffer} bytes */
  writePhoto = (id, bytes) => this.#ask("writePhoto", { id, bytes });
  /** @returns {Promise<?ArrayBuffer>} */
  readPhoto = (id) => this.#ask("readPhoto", { id });
  removePhoto = (id) => this.#ask("removePhoto", { id });
  /** @param {string} name without a hyphen @param {*} value anything JSON can hold */
  keep = (name, value) => this.#ask("keep", { name, content: JSON.stringify(value) });
  kept = async (name) => JSON.parse((await this.#ask("kept", { name })) ?? "null");
}

/** @returns {Promise<?Journal>} null where this browser has no private file system for pages, or denies it */
export async function openJournal() {
  if (!navigator.storage?.getDirectory || !globalThis.Worker) return null;
  const worker = new Worker(new URL("./journal_writer.js", import.meta.url));
  const journal = new Journal(worker);
  try {
    await journal.open();
    return journal;
  } catch {
    worker.terminate();
    return null;
  }
}
