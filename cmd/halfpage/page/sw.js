"use strict";
// Keeps the site on the phone, so that it opens with no signal. The rows are
// not here: they are in the browser's store, which an update leaves alone.
const KEPT = "halfcup-{version}";
const FILES = ["./", "manifest.webmanifest", "icon-180.png", "icon-192.png", "icon-512.png"];

self.addEventListener("install", (e) => {
  e.waitUntil(caches.open(KEPT).then((c) => c.addAll(FILES)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (e) => {
  e.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("halfcup-") && n !== KEPT).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()));
});
self.addEventListener("fetch", (e) => {
  if (e.request.method !== "GET") return;
  e.respondWith(caches.match(e.request, { ignoreSearch: true }).then((kept) => kept || fetch(e.request)));
});
