// Stands in with a page that says so when the shop cannot be reached. It keeps that page and nothing of the
// shop: an old projection shown as new could cost a pattern.
const away = "/assets/away.html";
const kept = [away, "/assets/page.css", "/assets/away.js"];
const name = kept.join(" ");
addEventListener("install", (e) => e.waitUntil(caches.open(name).then((c) => c.addAll(kept)).then(() => skipWaiting())));
addEventListener("activate", (e) => e.waitUntil((async () => {
  for (const old of await caches.keys()) if (old !== name) await caches.delete(old);
  await clients.claim();
})()));
addEventListener("fetch", (e) => {
  const { method, mode, url } = e.request;
  const part = kept.includes(new URL(url).pathname);
  if (method !== "GET" || (mode !== "navigate" && !part)) return;
  e.respondWith(fetch(e.request).catch(() => caches.match(part ? e.request : away)));
});
