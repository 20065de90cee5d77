// Asking the server: JSON in and out, the mark against forged requests, problems in words.

export class Problem extends Error {
  constructor(status, body) {
    super(body?.detail ?? String(status));
    this.status = status;
    this.type = body?.type ?? "";
  }
}

export const words = JSON.parse(document.getElementById("words")?.textContent ?? "{}");

/** A text of the page's language, with its gaps filled. */
export function say(key, gaps = {}) {
  return (words[key] ?? key).replace(/\{(\w+)\}/g, (_, name) => gaps[name] ?? "");
}

export function mark() {
  return document.querySelector("meta[name=csrf-token]").content;
}

/** Ask the API. Throws Problem for a refusal, TypeError when the server is away. */
export async function call(method, path, body, { version, signal, headers: more = {} } = {}) {
  const headers = { "X-CSRF-Token": mark(), Accept: "application/json", ...more };
  if (version !== undefined) headers["If-Match"] = version === "*" ? "*" : `"${version}"`;
  const isRaw = body instanceof Blob || body instanceof ArrayBuffer;
  if (body !== undefined && body !== null) headers["Content-Type"] = isRaw ? "application/offset+octet-stream" : "application/json";
  const answer = await fetch(path, {
    method, headers, signal, body: body === undefined || body === null ? undefined : isRaw ? body : JSON.stringify(body),
  });
  const text = await answer.text();
  let found = null;
  try { found = text ? JSON.parse(text) : null; } catch { found = null; }
  if (!answer.ok) throw new Problem(answer.status, found);
  return found;
}

/** A name that the server knows a thing by before it has one of its own; works without a secure context too. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

/** Say something to those who listen to the page rather than look at it. */
export function announce(text) {
  const place = document.getElementById("say");
  if (place) place.textContent = text;
}
