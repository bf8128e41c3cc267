// Answers for the page of one ride's start line where there is no signal: its page, script and style as they were last read.
// The page itself keeps marks and state (startkeep.js). The cache goes when somebody else is signed in (live.js).
"use strict";
const page = new URL(registration.scope).pathname;
const name = "start line " + page;
const patience = 5000; // ms for a weak signal

// keep keeps the page, after all that it needs.
const keep = async (response) => {
  const cache = await caches.open(name);
  const needed = new Set((await response.clone().text()).match(/\/static\/[\w.-]+/g));
  const have = (await cache.keys()).map((request) => new URL(request.url).pathname);
  await cache.addAll([...needed].filter((path) => !have.includes(path)));
  await cache.put(page, response);
  for (const path of have) if (path !== page && !needed.has(path)) await cache.delete(path);
};

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(fetch(page).then((response) => response.ok && keep(response)));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const show = async (event) => {
  const kept = await (await caches.open(name)).match(page);
  const fresh = fetch(event.request).then((response) => {
    if (response.status >= 500 && kept) return kept.clone();
    if (response.ok && response.url === registration.scope) event.waitUntil(keep(response.clone()));
    return response;
  });
  if (!kept) return fresh;
  return Promise.race([fresh.catch(() => kept.clone()), new Promise((done) => setTimeout(() => done(kept.clone()), patience))]);
};

self.addEventListener("fetch", (event) => {
  const at = new URL(event.request.url);
  if (at.origin !== location.origin) return;
  if (event.request.mode === "navigate") {
    if (at.pathname === page && event.request.method === "GET") event.respondWith(show(event));
    else event.respondWith(fetch(event.request).catch(() => Response.redirect(page + "#no-signal", 303)));
  } else if (at.pathname.startsWith("/static/")) {
    event.respondWith(caches.match(event.request, { cacheName: name }).then((kept) => kept || fetch(event.request)));
  }
});
