// When to try to send. Whether the browser believes to be online is a reason to try, never a reason not to.

const EVERY_MS = 30_000;

/** @param {() => void} wake sends if no failure asked for patience @param {() => void} sendNow whatever failed before */
export function startTriggers(wake, sendNow) {
  addEventListener("online", sendNow);
  addEventListener("pageshow", wake);
  addEventListener("focus", wake);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && wake());
  setInterval(() => document.visibilityState === "visible" && wake(), EVERY_MS);
  wake();
}
