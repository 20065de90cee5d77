// A clip for the coach: chosen or filmed, sent with consent. It waits in the telephone until the desk has it; the
// desk knows a clip by its bytes, so that one whose answer was lost is not there twice.
import { button, el } from "./elements.js";
import { newId, openDatabase } from "./journal.js";

const STALLED_MS = 45000;
const RETRY_MS = [3000, 10000, 30000, 120000];

const today = () => { const now = new Date(); return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10); };

export class ClipBox {
  /** `onChange` hears of every change; `onProgress(clip)` of bytes that went out. */
  constructor(url, { onChange = () => {}, onProgress = () => {} } = {}) {
    Object.assign(this, { url, onChange, onProgress, clips: new Map(), busy: null, failures: 0 });
  }

  /** The clips that are still here from an earlier visit. */
  async load() {
    try {
      this.database = await openDatabase(`pacewright-clips-${location.pathname}`, { clips: "id" });
      const request = this.database.transaction("clips").objectStore("clips").getAll();
      await new Promise((resolve, reject) => { request.onsuccess = resolve; request.onerror = () => reject(request.error); });
      for (const clip of request.result) this.clips.set(clip.id, clip);
    } catch { /* for this visit only */ }
    return this.send();
  }

  get all() { return [...this.clips.values()].sort((a, b) => (a.at < b.at ? 1 : -1)); }

  async add(file, run) {
    const clip = { id: newId(), at: new Date().toISOString(), held_on: today(), run: run ?? newId(), name: file.name || "clip.mp4", size: file.size, file, state: "waiting" };
    await this.put(clip);
    return this.send();
  }

  /** Keep a clip; where there is no room for it on the disk, until the page is closed. */
  async put(clip) {
    this.clips.set(clip.id, clip);
    try {
      await this.write((store) => store.put(clip));
      clip.isKept = true;
    } catch {
      clip.isKept = false;
    }
    this.onChange();
  }

  async drop(clip) {
    this.clips.delete(clip.id);
    if (this.current?.id === clip.id) this.request.abort();
    try { await this.write((store) => store.delete(clip.id)); } catch { /* it was never there */ }
    this.onChange();
  }

  async again(clip) {
    await this.put({ ...clip, state: "waiting", why: null });
    return this.send();
  }

  write(change) {
    return new Promise((resolve, reject) => {
      const transaction = this.database.transaction("clips", "readwrite", { durability: "strict" });
      change(transaction.objectStore("clips"));
      transaction.oncomplete = () => resolve();
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }

  /** Send what waits, one after the other; a call while sending is the same sending. */
  send() {
    this.busy ??= this.rounds().finally(() => { this.busy = null; this.onChange(); });
    return this.busy;
  }

  async rounds() {
    clearTimeout(this.timer);
    for (;;) {
      const clip = this.all.reverse().find((one) => one.state === "waiting");
      if (!clip) return;
      const { status, told } = await this.deliver(clip);
      if (!this.clips.has(clip.id)) continue;
      if (status === 201) {
        this.failures = 0;
        await this.put({ ...clip, file: null, state: "sent" });
      } else if ([400, 401, 403, 404, 409, 410, 413, 415, 422].includes(status)) {
        await this.put({ ...clip, state: "refused", why: reasonOf(status, told) });
      } else {
        // No network, a server that is away, or one that asks to wait: later.
        this.timer = setTimeout(() => this.send(), RETRY_MS[Math.min(this.failures, RETRY_MS.length - 1)]);
        this.failures += 1;
        return;
      }
    }
  }

  /** One go: `status` of the answer, 0 for none, and what it said. */
  deliver(clip) {
    return new Promise((resolve) => {
      const request = new XMLHttpRequest();
      let watch;
      const alive = () => { clearTimeout(watch); watch = setTimeout(() => request.abort(), STALLED_MS); };
      const done = (status, told) => { clearTimeout(watch); this.current = null; resolve({ status, told }); };
      this.request = request;
      this.current = { id: clip.id, share: 0 };
      request.open("POST", this.url);
      request.upload.onprogress = (event) => {
        alive();
        if (this.current) this.current.share = event.loaded / event.total;
        this.onProgress(this.current);
      };
      request.onload = () => done(request.status, request.responseText);
      request.onerror = request.onabort = () => done(0, "");
      const form = new FormData();
      form.append("run", clip.run);
      form.append("held_on", clip.held_on);
      form.append("file", clip.file, clip.name);
      alive();
      request.send(form);
      this.onChange();
    });
  }
}

/** Why the desk refused: a key of the page's words, and what it said itself. */
function reasonOf(status, told) {
  let said = {};
  try { said = JSON.parse(told); } catch { /* no problem of ours */ }
  if (String(said.type).endsWith("consent-missing")) return { key: "clip_no_consent" };
  if ([401, 403, 404, 410].includes(status)) return { key: "clip_link" };
  return { key: "clip_refused", detail: said.detail ?? String(status) };
}

const megabytes = (practice, bytes) => `${practice.words.number(bytes / 1e6, bytes < 1e7 ? 1 : 0)} MB`;

/** The screen: consent, a clip to choose or film, and how far each has come. */
export function clipScreen(practice) {
  const mayFilm = practice.payload.may_send_clips;
  practice.show("clip", practice.head(practice.say("clip")), el("p", {}, practice.say("clip_why")),
    mayFilm ? chooser(practice) : el("div", {}, el("p", { class: "warning" }, practice.say("clip_no_consent")),
      button(practice.say("clip_look_again"), async () => { await practice.renewPlan(); clipScreen(practice); }, "wide")),
    el("ol", { id: "clips", class: "clips", "aria-label": practice.say("clip_list") }));
  showClips(practice);
}

function chooser(practice, problem = "") {
  const place = el("section", { id: "chooser" });
  const agreed = el("input", { type: "checkbox", id: "agreed", onchange: () => { for (const input of inputs) input.disabled = !agreed.checked; } });
  const source = (label, extra) => {
    const input = el("input", { type: "file", accept: "video/*", disabled: true, onchange: () => input.files[0] && chosen(practice, input.files[0]), ...extra });
    return [input, el("label", { class: "source" }, input, el("span", {}, label))];
  };
  const made = [source(practice.say("clip_film"), { capture: "environment" }), source(practice.say("clip_choose"), {})];
  const inputs = made.map(([input]) => input);
  place.append(...(problem ? [el("p", { class: "warning", role: "alert" }, problem)] : []),
    el("label", { class: "consent" }, agreed, el("span", {}, practice.say("clip_consent"))), el("p", { class: "soft" }, practice.say("clip_minor")),
    el("div", { class: "pair" }, ...made.map(([, label]) => label)));
  return place;
}

/** A clip was picked: its name and size once more, then it goes. */
function chosen(practice, file) {
  const most = practice.payload.largest_clip_bytes;
  const back = (problem) => document.getElementById("chooser").replaceWith(chooser(practice, problem));
  if (file.type && !file.type.startsWith("video/")) return back(practice.say("clip_no_video", { name: file.name }));
  if (file.size === 0 || file.size > most) return back(practice.say("clip_size", { size: megabytes(practice, file.size), most: megabytes(practice, most) }));
  const send = () => { back(); practice.sendClip(file); };
  document.getElementById("chooser").replaceChildren(el("p", {}, el("b", {}, file.name || practice.say("clip"))),
    button(practice.say("clip_send", { size: megabytes(practice, file.size) }), send, "big", { id: "main" }), button(practice.say("clip_other"), () => back(), "quiet wide"));
}

/** The clips that are here, newest first. */
export function showClips(practice) {
  const list = document.getElementById("clips");
  if (!list) return;
  const { all, current } = practice.clips;
  list.replaceChildren(...all.map((clip) => {
    const isGoing = current?.id === clip.id;
    const state = isGoing ? "sending" : clip.state;
    return el("li", { "data-state": state }, el("b", {}, clip.name), el("span", { class: "soft" }, megabytes(practice, clip.size)),
      isGoing ? el("progress", { max: 1, value: current.share, "aria-label": practice.say("clip_sending") }) : null,
      el("p", { class: state === "refused" ? "warning" : "" }, stateWords(practice, clip, state)),
      state === "refused" ? button(practice.say("clip_again"), () => practice.clips.again(clip), "wide") : null,
      state === "waiting" ? button(practice.say("clip_now"), () => practice.clips.send(), "wide") : null,
      state === "sent" ? null : button(practice.say("clip_drop"), () => practice.clips.drop(clip), "quiet"));
  }));
}

function stateWords(practice, clip, state) {
  if (state === "refused") return `${practice.say(clip.why.key)}${clip.why.detail ? ` ${clip.why.detail}` : ""}`;
  return practice.say(`clip_${state}`) + (state !== "sent" && clip.isKept === false ? ` ${practice.say("clip_stay")}` : "");
}

/** How far the clip on its way is, without drawing the list anew. */
export function showClipProgress({ share }) {
  const bar = document.querySelector("#clips progress");
  if (bar) bar.value = share;
}
