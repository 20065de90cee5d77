// Offline: the page and its parts from the cache at once, renewed behind it; the plan from the network if it answers.
const CACHE = "pacewright-practice";
const PARTS = ["./", "practice.css", "page.js", "beat.js", "clicks.js", "clip.js", "draw.js", "drill.js", "elements.js", "fonts.css", "journal.js", "listen.js",
  "listen-worklet.js", "outbox.js", "screens.js", "words.js", "manifest.json", "icon.svg", "icon-192.png", "icon-512.png", "plan.json"];
const PLAN_PATIENCE_MS = 3000;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(PARTS)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || !request.url.startsWith(self.registration.scope)) return;
  const isPlan = new URL(request.url).pathname.endsWith("/plan.json");
  event.respondWith(isPlan ? networkFirst(request) : cacheFirst(event, request));
});

async function kept(request) {
  const cache = await caches.open(CACHE);
  return cache.match(request, { ignoreSearch: request.mode === "navigate" });
}

async function renewed(request) {
  const answer = await fetch(request);
  if (answer.ok) await (await caches.open(CACHE)).put(request, answer.clone());
  return answer;
}

async function cacheFirst(event, request) {
  const found = await kept(request);
  if (!found) return renewed(request);
  event.waitUntil(renewed(request).catch(() => {}));
  return found;
}

async function networkFirst(request) {
  const found = await kept(request);
  const answer = renewed(request);
  if (!found) return answer;
  answer.catch(() => {});
  const late = new Promise((resolve) => { setTimeout(resolve, PLAN_PATIENCE_MS, found); });
  // A refusal (the link was withdrawn) goes through to the page: it is no failure of the network.
  return Promise.race([answer.catch(() => found), late]);
}
