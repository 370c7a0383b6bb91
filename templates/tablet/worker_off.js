// Takes itself away: no file is kept and no request is touched any more. What the tablet has saved stays where it is.
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) await caches.delete(name);
      await self.registration.unregister();
      for (const page of await self.clients.matchAll({ type: "window" })) page.navigate(page.url);
    })(),
  );
});
