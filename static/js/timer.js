// Clocks of timed tests. They count from the moment of the start as the wall clock tells it, kept in local storage,
// so that a reload, a sleeping tablet or another page in between changes nothing.

const KEY = "timed test ";
const EVERY_MS = 250;

function seconds(startedAt) {
  return Math.max(0, (Date.now() - startedAt) / 1000);
}

function show(button, text) {
  button.textContent = text;
}

function run(timer) {
  const button = timer.querySelector("[data-timer-button]");
  const field = timer.querySelector("[data-timer-seconds]");
  const key = KEY + timer.dataset.timer;
  const startedAt = Number(localStorage.getItem(key));
  if (!startedAt || !timer.isConnected) {
    show(button, field.value ? "Start the clock again" : "Start the clock");
    return;
  }
  show(button, `Stop at ${seconds(startedAt).toFixed(0)} s`);
  setTimeout(() => run(timer), EVERY_MS);
}

function press(timer) {
  const key = KEY + timer.dataset.timer;
  const field = timer.querySelector("[data-timer-seconds]");
  const startedAt = Number(localStorage.getItem(key));
  if (startedAt) {
    field.value = seconds(startedAt).toFixed(1);
    localStorage.removeItem(key);
    field.dispatchEvent(new Event("timer-stopped", { bubbles: true }));
  } else {
    field.value = "";
    localStorage.setItem(key, String(Date.now()));
  }
  run(timer);
}

export function startTimers(root) {
  for (const timer of root.querySelectorAll("[data-timer]")) {
    if (timer.dataset.ready) continue;
    timer.dataset.ready = "yes";
    const button = timer.querySelector("[data-timer-button]");
    button.hidden = false;
    button.addEventListener("click", () => press(timer));
    run(timer);
  }
}
