// Parts of a page that come after it, or change by themselves.

import { sleep } from "./api.js";

const tags = new WeakMap();
const texts = new WeakMap();

/** Fetch a part again; what is the same is not touched, so that nobody loses their place. */
export async function refresh(part) {
  const known = tags.get(part);
  const headers = { Accept: "text/html", ...(known ? { "If-None-Match": known } : {}) };
  const answer = await fetch(part.dataset.part, { headers });
  if (answer.status === 304 || !answer.ok) return;
  tags.set(part, answer.headers.get("ETag"));
  const text = await answer.text();
  if (texts.get(part) === text) return;
  texts.set(part, text);
  const focus = document.activeElement?.id && part.contains(document.activeElement) ? document.activeElement.id : null;
  const open = new Set([...part.querySelectorAll("details[open]")].map((one) => one.textContent.trim()));
  const inner = new Map([...part.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one]));
  part.innerHTML = text;
  // Charts within that stay the same are not drawn again.
  for (const one of part.querySelectorAll("[data-part]")) {
    const before = inner.get(one.dataset.part);
    if (before?.firstElementChild) one.replaceWith(before);
  }
  for (const one of part.querySelectorAll("details")) if (open.has(one.textContent.trim())) one.open = true;
  if (focus) document.getElementById(focus)?.focus();
  loadWithin(part);
}

/** Load the parts within that are still empty, once they are near the screen. */
export function loadWithin(root) {
  const waiting = [...root.querySelectorAll("[data-part]")].filter((part) => !part.firstElementChild);
  if (!waiting.length) return;
  const watch = new IntersectionObserver((seen) => {
    for (const one of seen) if (one.isIntersecting) { watch.unobserve(one.target); refresh(one.target).catch(() => {}); }
  }, { rootMargin: "400px" });
  waiting.forEach((part) => watch.observe(part));
}

/** Follow what happens: by the session's events where there is a session, else by looking again. */
export function follow() {
  const followed = [...document.querySelectorAll("[data-follow]")];
  if (!followed.length) return;
  const session = followed[0].dataset.part.match(/^\/sessions\/[^/]+/)?.[0];
  const again = () => followed.forEach((part) => refresh(part).catch(() => {}));
  document.addEventListener("pacewright:changed", again);
  if (session && window.EventSource) {
    let source = null;
    const listen = () => {
      source = new EventSource(`/api/v1${session}/events`);
      source.addEventListener("progress", again);
      source.addEventListener("gone", () => source.close());
      source.addEventListener("error", () => {
        if (source.readyState === EventSource.CLOSED) sleep(2000).then(listen);
      });
    };
    listen();
    addEventListener("pagehide", () => source?.close());
    addEventListener("pageshow", (event) => { if (event.persisted) listen(); });
    return;
  }
  setInterval(() => { if (!document.hidden) again(); }, 3000);
}

export function changed() {
  document.dispatchEvent(new Event("pacewright:changed"));
}
