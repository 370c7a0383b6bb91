// What the server answered is said aloud, and the focus stays with the card that was moved.
import { last, say } from "./send.js";

function answered(event) {
  if (event.detail.elt?.id !== "board" && event.target.id !== "board") return;
  const told = document.querySelector("#board [data-says]");
  if (told) say([...told.querySelectorAll("p")].map((one) => one.innerText).join(" "));
  const question = told?.querySelector("[data-first]");
  if (question) question.focus();
  else if (document.getElementById(last.card)) document.querySelector(`#${last.card} [data-grip]`)?.focus();
  else if (last.card) document.getElementById("board-says").focus({ preventScroll: true });
}

export function listenToAnswers(page) {
  page.addEventListener("htmx:afterSettle", answered);
  for (const fault of ["htmx:sendError", "htmx:responseError"]) {
    page.addEventListener(fault, () => {
      say("That didn't reach the server. Load the page again and try once more.");
      window.location.reload();
    });
  }
  page.addEventListener("click", (event) => {
    if (!event.target.closest?.("[data-let-be]")) return;
    document.getElementById("board-says").replaceChildren();
    say("It stays where it is.");
    document.querySelector(`#${last.card || "board"} [data-grip]`)?.focus();
  });
}
