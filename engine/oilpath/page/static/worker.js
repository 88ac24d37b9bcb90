// Keeps the entry pages that were opened, and what they load, for times without a signal. The network always comes first.
"use strict";
const CACHE = "oilpath-1";
const KEPT = /^\/(sheet\/.+\/entry|static\/.+)$/;
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(asset(event.request));
  else if (event.request.mode === "navigate") event.respondWith(page(event.request, url));
});
async function asset(request) {
  const cache = await caches.open(CACHE);
  const found = await cache.match(request);
  if (found) return found;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request, answer.clone());
  return answer;
}
async function page(request, url) {
  const cache = await caches.open(CACHE);
  const kept = KEPT.test(url.pathname);
  try {
    const answer = await fetch(request);
    if (kept && answer.ok && !answer.redirected) await cache.put(url.pathname + url.search, answer.clone());
    return answer;
  } catch (error) {
    const found = kept && (await cache.match(url.pathname + url.search) || await cache.match(url.pathname, { ignoreSearch: true }));
    if (found) return found;
    return new Response(
      "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'><title>No connection</title>"
      + "<h1>No connection</h1><p>The entry pages that you opened here before still open. What you typed there is kept.</p>"
      + await list(cache), { status: 503, headers: { "content-type": "text/html; charset=utf-8", "content-security-policy": "default-src 'none'" } });
  }
}
async function list(cache) {
  const keys = await cache.keys();
  const paths = [...new Set(keys.map((one) => new URL(one.url)).filter((one) => one.pathname.endsWith("/entry")).map((one) => one.pathname + one.search))];
  return "<ul>" + paths.map((path) => `<li><a href="${path.replace(/[&<>"]/g, "")}">${path.replace(/[&<>"]/g, "")}</a>`).join("") + "</ul>";
}
