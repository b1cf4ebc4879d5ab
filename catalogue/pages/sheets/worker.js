/*
 * Bench sheets without a network: a phone drops a page that was not looked at for a while, and asks for it anew. This
 * service worker keeps each sheet that was visited, with all that its page loads. The network comes first, so that
 * nothing kept is shown where something newer can be had. It lies in this folder since it may answer for this folder only.
 *
 * assets/sheet-kept.js registers it, and posts it a list of addresses: what its page had loaded before it was there.
 */
(function () {
  "use strict";

  const STORE = "sheets";
  const KINDS = ["document", "font", "image", "script", "style"];

  async function answer(request) {
    const store = await caches.open(STORE);
    try {
      const response = await fetch(request);
      if (response.ok) await store.put(request, response.clone());
      return response;
    } catch (error) {
      const kept = await store.match(request, { ignoreSearch: request.mode === "navigate", ignoreVary: true });
      if (kept) return kept;
      throw error;
    }
  }

  async function keep(addresses) {
    await (await caches.open(STORE)).addAll(addresses);
  }

  self.addEventListener("install", () => self.skipWaiting());
  self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
  self.addEventListener("message", (event) => event.waitUntil(keep(event.data)));
  self.addEventListener("fetch", (event) => {
    const { request } = event;
    const isOurs = new URL(request.url).origin === self.location.origin && KINDS.includes(request.destination);
    if (request.method === "GET" && isOurs) event.respondWith(answer(request));
  });
})();
