// The page without signal: keeps every file of one version, all of them or none, and serves them first.
//
// It never touches anything but GET, never what the office is asked or told, and never queues or repeats a request:
// a queue in here would be emptied by an expired sign-in.
const VERSION = "{{ version }}";
const ADDRESSES = {{ addresses_json|safe }};
const PREFIX = "tablet-";
const CACHE = PREFIX + VERSION;
const SHELL = "/tablet/";

async function fetchAll() {
  const cache = await caches.open(CACHE);
  await Promise.all(
    ADDRESSES.map(async (address) => {
      const answer = await fetch(address, { credentials: "omit", cache: "no-cache", redirect: "error" });
      if (!answer.ok || answer.redirected) throw new Error(`${address} answers ${answer.status}`);
      await cache.put(address, answer);
    }),
  );
}

async function isComplete() {
  const cache = await caches.open(CACHE);
  const found = await Promise.all(ADDRESSES.map((address) => cache.match(address)));
  return found.every(Boolean);
}

self.addEventListener("install", (event) => {
  event.waitUntil(
    fetchAll().catch(async (error) => {
      await caches.delete(CACHE);
      throw error;
    }),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith(PREFIX) && name !== CACHE) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "are you complete") event.waitUntil(isComplete().then((answer) => event.ports[0].postMessage(answer)));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (address.pathname.startsWith(SHELL + "api/")) return;
  const wanted = request.mode === "navigate" && address.pathname === SHELL ? SHELL : address.pathname;
  if (!ADDRESSES.includes(wanted)) return;
  event.respondWith(caches.open(CACHE).then((cache) => cache.match(wanted)).then((kept) => kept ?? fetch(request)));
});
