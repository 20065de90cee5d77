// What was deleted can be taken back: a bar says so, on this page or on the one that follows.

import { announce, call, say } from "./api.js";
import { changed } from "./parts.js";

const KEPT = "pacewright.undo";
let action = null;
let timer = null;

function show(text, back) {
  const bar = document.getElementById("undo");
  action = back;
  document.getElementById("undo-text").textContent = text;
  bar.hidden = false;
  clearTimeout(timer);
  timer = setTimeout(() => { bar.hidden = true; }, 20000);
}

/** Offer to take back a deletion (what the API answered), here or on the page `then`. */
export function offerUndo(step, then) {
  if (then) {
    sessionStorage.setItem(KEPT, JSON.stringify(step));
    location.assign(then);
    return;
  }
  show(say("deleted"), async () => {
    await call("POST", `/api/v1/undo/${step.id}`);
    if (document.querySelector("[data-follow]")) changed();
    else location.reload();
  });
}

/** Offer to take back anything else. */
export function offerBack(text, back) {
  show(text, back);
}

export function watchUndo() {
  document.getElementById("undo-go")?.addEventListener("click", async () => {
    document.getElementById("undo").hidden = true;
    try { await action?.(); } catch (error) { announce(error.message); }
  });
  const kept = sessionStorage.getItem(KEPT);
  if (kept) {
    sessionStorage.removeItem(KEPT);
    offerUndo(JSON.parse(kept));
  }
}
