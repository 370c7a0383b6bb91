// What is saved where, always in sight and in words: "unsent 3 · last sent 10:42 AM · storage safe".

import { arrange, h } from "./dom.js";
import { mark } from "./marks.js";
import { many, moment } from "./words.js";

const STORAGE = {
  safe: ["good", "storage safe"],
  "one copy": ["watch", "one copy only on this tablet"],
  "not safe": ["bad", "storage not safe"],
};

function unsentWords({ unsent, unsentPhotos }) {
  const count = unsent || 0;
  const photos = unsentPhotos || 0;
  if (!count && !photos) return mark("sent", "nothing unsent");
  return mark("open", `unsent ${[count, photos && many(photos, "photo")].filter(Boolean).join(" and ")}`);
}

/** Fills the line from the store's status; what says the same stays. */
export function showStatus(line, status) {
  const [code, words] = STORAGE[status.storage] || STORAGE["not safe"];
  const sent = status.lastSentAt ? `last sent ${moment(status.lastSentAt)}` : "nothing sent yet";
  arrange(line, [
    [`${status.unsent} ${status.unsentPhotos}`, () => unsentWords(status)],
    [sent, () => h("span", {}, sent)],
    [words, () => mark(code, words)],
  ]);
}

/** A note above the page that never blocks it: sign-in wanted, storage in danger, a new version. */
export function showNotice(place, status, update) {
  const notes = [];
  if (status.storage === "not safe") {
    notes.push(
      note("is-bad", "This tablet cannot keep what you enter safely. Save a backup file before you go on.", "#/tablet", "To the backup"),
    );
  }
  if (status.message) {
    const [address, label] = status.needsSignIn ? ["#/sign-in", "Sign in"] : ["#/tablet", "More about this tablet"];
    notes.push(note("is-watch", status.message, address, label));
  }
  if (update) notes.push(note("", "A new version of this page is ready.", "#/tablet", "Take it when nothing is half typed"));
  const said = notes.map((one) => one.textContent).join("|");
  if (place.dataset.said === said) return;
  place.dataset.said = said;
  place.replaceChildren(...notes);
}

function note(tone, sentence, address, label) {
  return h("div", { class: `message ${tone}` }, h("p", {}, `${sentence} `, h("a", { href: address }, label)));
}
