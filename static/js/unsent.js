// What was typed into a card and not saved yet stays on this tablet: through a reload, a refusal, a lost connection.

const PREFIX = `unsent ${location.pathname} `;
const FIELDS = "[data-answer] input[name=typed], [data-answer] input[name=seconds], [data-answer] textarea[name=text]";

function keyOf(card, field) {
  return `${PREFIX}${card.id} ${field.name}`;
}

function remember(field) {
  const card = field.closest("article");
  if (card) localStorage.setItem(keyOf(card, field), field.value);
}

function restore(root) {
  for (const field of root.querySelectorAll(FIELDS)) {
    const typed = localStorage.getItem(keyOf(field.closest("article"), field));
    if (typed !== null) field.value = typed;
  }
}

function forget(card) {
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith(`${PREFIX}${card.id} `)) localStorage.removeItem(key);
  }
}

function sayNotSaved(card) {
  card.querySelector("[data-not-saved]")?.remove();
  const note = document.createElement("p");
  note.className = "message is-bad";
  note.dataset.notSaved = "";
  note.setAttribute("role", "alert");
  note.textContent = "Not saved: there is no connection. What you entered stays here; send it again when there is one.";
  card.append(note);
}

export function keepUnsent() {
  document.addEventListener("input", (event) => {
    if (event.target.matches(FIELDS)) remember(event.target);
  });
  document.addEventListener("timer-stopped", (event) => remember(event.target));
  // The answered card has taken the old one's place: saved when it brings no refusal with it.
  document.addEventListener("htmx:afterSettle", (event) => {
    const card = event.target.closest?.("article");
    if (!card) return;
    if (card.querySelector("[role=alert]")) restore(card);
    else forget(card);
  });
  for (const failure of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) {
    document.addEventListener(failure, (event) => {
      const card = event.target.closest("article");
      if (card) sayNotSaved(card);
    });
  }
  restore(document);
}
