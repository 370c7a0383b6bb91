// The check-up page: a touch saves, clocks run, a finger signs. Without this module every card still has its button.

import { startTimers } from "./timer.js";
import { startSignature } from "./signature.js";
import { keepUnsent } from "./unsent.js";

document.documentElement.classList.add("has-script");

// A touched choice is sent at once; "not possible" waits for its reason.
document.addEventListener("change", (event) => {
  const input = event.target;
  if (!(input instanceof HTMLInputElement)) return;
  const isChoice = input.type === "radio" && input.name === "condition" && input.value !== "not_possible";
  const isPhoto = input.type === "file" && input.files.length > 0;
  if ((isChoice && input.closest("[data-answer]")) || (isPhoto && input.closest("[data-photo]"))) {
    input.form.requestSubmit();
  }
});

document.querySelector("[data-takes-focus]")?.focus();
keepUnsent();
startTimers(document);
document.addEventListener("htmx:afterSwap", () => startTimers(document));
startSignature(document.querySelector("[data-signature]"));
