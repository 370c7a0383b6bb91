// The service worker from the page's side: registered, asked for news, and told when it may take over.

const ADDRESS = "/tablet/worker.js";
const SCOPE = "/tablet/";
const EVERY_MS = 3 * 60 * 60 * 1000;

/** @param {() => void} onUpdate called when a new version of the page is complete and waits @returns {Promise<?ServiceWorkerRegistration>} */
export async function registerWorker(onUpdate) {
  if (!navigator.serviceWorker) return null;
  try {
    const registration = await navigator.serviceWorker.register(ADDRESS, { scope: SCOPE, updateViaCache: "none" });
    const tellWhenWaiting = () => registration.waiting && navigator.serviceWorker.controller && onUpdate();
    registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", tellWhenWaiting));
    tellWhenWaiting();
    const look = () => registration.update().catch(() => {});
    addEventListener("online", look);
    setInterval(look, EVERY_MS);
    look();
    return registration;
  } catch {
    return null;
  }
}

/** Whether this is a moment to change the page under somebody's hands. @param {number} unsent items only on this tablet */
export function mayUpdate(unsent) {
  return unsent === 0 && !document.activeElement?.matches("input, textarea, select, [contenteditable]");
}

/** Lets the waiting version take over, then loads the page anew with it. */
export async function takeOver(registration) {
  if (!registration?.waiting) return false;
  const changed = new Promise((resolve) => navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true }));
  registration.waiting.postMessage("take over");
  await changed;
  location.reload();
  return true;
}

/** @returns {Promise<boolean>} whether a worker is in charge and says that it holds every file of its version */
export async function isComplete() {
  const registration = await navigator.serviceWorker?.getRegistration(SCOPE);
  if (!registration?.active) return false;
  const channel = new MessageChannel();
  const answer = new Promise((resolve) => {
    channel.port1.onmessage = ({ data }) => resolve(data === true);
    setTimeout(() => resolve(false), 3000);
  });
  registration.active.postMessage("are you complete", [channel.port2]);
  return answer;
}
