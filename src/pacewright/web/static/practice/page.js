// The player's page: home, putt by putt, note, rest; the beat and the microphone beside it.
import { BeatPlayer, outputLatency } from "./beat.js";
import { ClipBox, clipScreen, showClipProgress, showClips } from "./clip.js";
import { beatPicture, greenPicture, markerPicture } from "./draw.js";
import { contactShare, distanceFigures, sessionPutts } from "./drill.js";
import { button, el } from "./elements.js";
import { Journal, memoryJournal, newId } from "./journal.js";
import { Listener, beatError, clapDelays, middleOf } from "./listen.js";
import { Outbox, sendEarlier } from "./outbox.js";
import { resultsScreen, settingsScreen } from "./screens.js";
import { Words } from "./words.js";

const CALIBRATION_S = 60;
const AFTER_CONTACT_MS = 900;
const MOST_STROKES = 5;
const COUNT_IN = 3;
const REST_BEATS = 3;
const FINISH_SD_M = 0.1; // of a place put on the picture by thumb
const QUICK_SD_SHARE = 0.25; // of a quick distance: it stands for the distances round it

const data = JSON.parse(document.getElementById("practice-data").textContent);
const page = document.getElementById("page");

const settingsKey = "pacewright-practice-settings";

class Practice {
  async boot() {
    this.settings = { look: "auto", language: null, units: null, shoe_cm: 30, putter_cm: 86, vibration: true, ...this.read(settingsKey) };
    this.payload = data.payload ?? await this.fetchPlan();
    if (!this.payload) return;
    this.wordsAgain();
    try {
      this.journal = await Journal.open(this.payload.plan_id);
      this.state = (await this.journal.state()) ?? { done: [], session: null };
    } catch {
      this.journal = memoryJournal();
      this.state = { done: [], session: null };
      this.isForgetful = true;
    }
    this.outbox = new Outbox(this.journal, data.config.results_url, this.payload.plan_id, () => this.showSync());
    if (data.config.clips_url) this.clips = new ClipBox(data.config.clips_url, { onChange: () => this.clipsChanged(), onProgress: showClipProgress });
    addEventListener("online", () => this.sendAll());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) { this.sendAll(); this.keepAwake(); } });
    this.sendAll();
    this.home();
    this.clips?.load();
    if (data.config.worker_url && "serviceWorker" in navigator) navigator.serviceWorker.register(data.config.worker_url, { scope: "./" });
    document.documentElement.dataset.ready = "yes";
    if (data.config.fonts_url) document.head.append(el("link", { rel: "stylesheet", href: data.config.fonts_url }));
  }

  async fetchPlan() {
    const words = new Words(data.messages, navigator.language.slice(0, 2), "metric");
    try {
      const answer = await fetch(data.config.plan_url, { credentials: "same-origin" });
      if (answer.ok) return await answer.json();
      page.replaceChildren(el("h1", {}, "Pacewright"), el("p", {}, words.say("refused")));
    } catch {
      page.replaceChildren(el("h1", {}, "Pacewright"), el("p", {}, words.say("offline")));
    }
    return null;
  }

  sendAll() {
    this.outbox.send();
    if (data.config.results_url) sendEarlier(this.payload.plan_id, data.config.results_url).catch(() => {});
    this.clips?.send();
  }

  read(key) {
    try { return JSON.parse(localStorage.getItem(key)) ?? {}; } catch { return {}; }
  }

  set(name, value) {
    this.settings[name] = value;
    try { localStorage.setItem(settingsKey, JSON.stringify(this.settings)); } catch { /* kept for this visit */ }
    this.wordsAgain();
  }

  wordsAgain() {
    const { player } = this.payload;
    this.words = new Words(data.messages, this.settings.language ?? player.language, this.settings.units ?? player.units);
    document.documentElement.lang = this.words.language;
    document.documentElement.dataset.look = this.settings.look;
    document.title = `${this.words.say("title")} · Pacewright`;
  }

  say(key, values) { return this.words.say(key, values); }

  tell(words) { document.getElementById("say").textContent = words; }

  show(name, ...children) {
    page.dataset.screen = name;
    page.replaceChildren(...children.filter((child) => child !== null));
    page.focus({ preventScroll: true });
    scrollTo(0, 0);
  }

  head(title, onBack = () => this.home()) {
    return el("header", {}, button(this.say("back"), () => { this.silence(); onBack(); }, "quiet"), el("h1", {}, title));
  }

  // -- home ------------------------------------------------------------------------------------------

  get sessions() { return this.payload.plan.sessions; }

  home() {
    const next = this.state.session ?? this.sessions.find((one) => !this.state.done.includes(one.number))?.number;
    const session = this.sessions.find((one) => one.number === next);
    const { player, stop_rules: rules } = this.payload.plan;
    this.show("home", el("header", { class: "cover" }, el("p", { class: "kind" }, player ? this.say("for_player", { player }) : "Pacewright"), el("h1", {}, this.say("title"))),
      this.isForgetful ? el("p", { class: "warning" }, this.say("storage_broken")) : null,
      session ? el("section", {}, el("p", { class: "kind" }, this.say("today", { number: session.number, count: this.sessions.length })),
        el("h2", {}, this.say(`kind ${session.kind}`)), el("p", {}, session.aim),
        el("p", { class: "soft" }, this.say("size", { minutes: session.minutes, putts: session.blocks.reduce((sum, block) => sum + block.putts, 0) })),
        session.kind === "retention test" ? el("p", {}, this.say("retention")) : null,
        button(this.say(this.state.session ? "go_on" : "start"), () => this.startSession(session), "big"))
        : el("section", {}, el("p", {}, this.say("all_done"))),
      el("nav", { "aria-label": this.say("title") }, button(this.say("beat_only"), () => this.beatScreen()), button(this.say("listening"), () => this.micScreen()),
        button(this.say("results"), () => resultsScreen(this)), button(this.say("settings"), () => settingsScreen(this, data.config)),
        this.clips ? button(this.say("clip"), () => clipScreen(this), "", { id: "clip" }) : null),
      rules.length ? el("details", {}, el("summary", {}, this.say("stop_rules")), el("ul", {}, ...rules.map((rule) => el("li", {}, rule)))) : null,
      el("details", {}, el("summary", {}, this.say("choose")), el("div", { class: "list" }, ...this.sessions.map((one) => button(
        `${this.state.done.includes(one.number) ? "✓ " : ""}${this.say("session", { number: one.number })} · ${this.say(`kind ${one.kind}`)}`, () => this.startSession(one))))),
      this.syncLine());
    this.showSync();
  }

  syncLine() { return el("p", { id: "sync", class: "soft" }); }

  async showSync() {
    const line = document.getElementById("sync");
    if (!line) return;
    const unsent = (await this.journal.unsent()).length;
    if (!data.config.results_url) line.textContent = unsent ? this.say("to_send", { count: unsent }) : "";
    else line.textContent = unsent || this.outbox.state === "refused" ? this.say(this.outbox.state === "idle" ? "waiting" : this.outbox.state) : this.say((await this.journal.items()).length ? "sent" : "idle");
  }

  // -- a clip for the coach --------------------------------------------------------------------------

  /** A clip belongs to the practice that is going on, or was the last one today. */
  async sendClip(file) {
    this.keepAwake();
    const { run, run_on: on } = this.state;
    await this.clips.add(file, run && on === new Date().toDateString() ? run : undefined);
  }

  clipsChanged() {
    showClips(this);
    const last = this.clips.all[0];
    if (page.dataset.screen === "clip" && last && last.state !== this.toldOfClip) this.tell(this.say(last.state === "refused" ? last.why.key : `clip_${last.state}`));
    this.toldOfClip = last?.state;
  }

  /** The plan as the desk has it now; what is known stays where there is no network. */
  async renewPlan() {
    try {
      const answer = await fetch(data.config.plan_url, { credentials: "same-origin" });
      if (answer.ok) Object.assign(this.payload, { may_send_clips: (await answer.json()).may_send_clips });
    } catch { /* as before */ }
  }

  // -- a session -------------------------------------------------------------------------------------

  async startSession(session) {
    if (this.state.session !== session.number) {
      const seed = crypto.getRandomValues(new Uint32Array(1))[0];
      const run = newId();
      await this.keep([this.item("session-start", { session: session.number, session_kind: session.kind, run, seed })],
        { ...this.state, session: session.number, seed, run, run_on: new Date().toDateString(), position: 0, rested_at: Date.now() });
    }
    this.session = session;
    this.putts = sessionPutts(session, this.state.seed);
    this.keepAwake();
    this.putt();
  }

  item(kind, fields) {
    return { id: newId(), kind, at: new Date().toISOString(), ...fields };
  }

  async keep(items, state = this.state) {
    await this.journal.write(items, state);
    this.state = state;
    this.outbox.send();
    this.showSync();
  }

  get current() { return this.putts[this.state.position]; }

  stationFor(asked_m) {
    return this.payload.plan.station?.stations.find((one) => Math.abs(one.putt_length_m - asked_m) < 0.005) ?? null;
  }

  putt(flash = "") {
    const now = this.current;
    if (!now) return this.endSession();
    const block = this.session.blocks[now.block];
    this.contact = null;
    this.guess_m = null;
    const station = block.markers ? this.stationFor(now.asked_m) : null;
    this.show("putt", this.head(block.title), el("p", { class: "count" }, this.say("putt_of", { number: now.number + 1, count: block.putts })),
      flash ? el("p", { class: "flash" }, flash) : null,
      el("p", { class: "length" }, this.words.walked(now.asked_m)), el("p", { class: "task" }, block.task), this.markersPart(station, block),
      now.beat ? this.beatPart() : el("p", { class: "soft" }, this.say("without_beat")),
      button(now.beat ? this.say("play_beat") : this.say("no_beat"), now.beat ? () => this.toggleBeat() : () => this.afterPutt(), "big", { id: "main" }),
      now.beat ? button(this.say("note"), () => this.afterPutt(), "wide") : null,
      this.state.last ? button(this.say("undo"), () => this.undo(), "quiet wide") : null, el("div", { id: "timing" }), this.syncLine());
    this.showTiming(block.feedback_mode);
    this.showSync();
  }

  markersPart(station, block) {
    if (!station) return block.markers ? null : el("p", { class: "soft" }, this.say("no_markers"));
    const longest = Math.max(...this.payload.plan.station.stations.map((one) => Math.max(one.back_marker_m, one.through_marker_m, one.back_marker_band_m[1])));
    return el("section", { class: "markers", "aria-label": this.say("markers") }, el("div", { class: "pair" },
      el("p", { class: "back-marker" }, el("b", {}, this.words.near(station.back_marker_m)), el("span", {}, `2 · ${this.say("behind")}`), el("small", {}, this.shoes(station.back_marker_m))),
      el("p", { class: "through-marker" }, el("b", {}, this.words.near(station.through_marker_m)), el("span", {}, `3 · ${this.say("ahead")}`), el("small", {}, this.putters(station.through_marker_m)))),
    markerPicture(station, longest, this.words));
  }

  shoes(length_m) {
    const shoe = this.settings.shoe_cm / 100;
    const count = Math.floor(length_m / shoe + 0.02);
    const rest = length_m - count * shoe;
    return count === 0 ? this.say("shoe_less", { rest: this.words.near(-rest + shoe) }) : this.say("shoes", { count, rest: this.words.near(Math.max(rest, 0)) });
  }

  putters(length_m) { return this.say("putters", { share: this.words.number(100 * length_m / this.settings.putter_cm, 2) }); }

  // -- the beat --------------------------------------------------------------------------------------

  beatPart() {
    return el("div", { class: "beat", "aria-hidden": "true" }, ...["start", "back", "through"].map((role, k) => el("span", { "data-role": role }, el("b", {}, `${k + 1}`), this.say(`role ${role}`))));
  }

  audio() {
    this.context ??= new AudioContext({ latencyHint: "interactive" });
    this.context.resume();
    this.player ??= new BeatPlayer(this.context, { onBeat: (beat) => this.handedOver(beat) });
    return this.player;
  }

  toggleBeat() {
    if (this.player?.running) return this.silence();
    const player = this.audio();
    this.backs = [];
    this.shown = [];
    player.start({ beatsPerMinute: this.payload.plan.beats_per_minute, countInBeats: COUNT_IN, rest: REST_BEATS, most: COUNT_IN + MOST_STROKES * (3 + REST_BEATS) });
    this.beatRunning();
  }

  beatRunning() {
    const main = document.getElementById("main");
    if (main) { main.textContent = this.say("stop_beat"); main.setAttribute("aria-pressed", "true"); }
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const look = () => {
      const heard = this.context.currentTime - outputLatency(this.context);
      while (this.shown.length && this.shown[0].time_s <= heard) this.light(this.shown.shift(), still);
      if (this.player.running || this.shown.length) this.frame = requestAnimationFrame(look);
      else this.silence();
    };
    this.frame = requestAnimationFrame(look);
  }

  handedOver(beat) {
    this.shown.push(beat);
    if (beat.role === "back") this.backs.push(beat);
    this.listener?.announce(beat);
    this.calibration?.beats.push(beat.time_s);
  }

  light(beat, still) {
    for (const mark of page.querySelectorAll(".beat span")) mark.classList.toggle("on", mark.dataset.role === beat.role);
    page.querySelector(".beat")?.classList.toggle("moving", !still);
    if (this.settings.vibration && !still && ["start", "back", "through"].includes(beat.role)) navigator.vibrate?.(beat.role === "through" ? 60 : 30);
  }

  silence() {
    this.player?.stop();
    cancelAnimationFrame(this.frame);
    this.shown = [];
    this.calibration = null;
    for (const mark of page.querySelectorAll(".beat span")) mark.classList.remove("on");
    const main = document.getElementById("main");
    if (main?.getAttribute("aria-pressed")) { main.textContent = this.say("play_beat"); main.removeAttribute("aria-pressed"); }
  }

  beatScreen() {
    let bpm = this.payload.plan.beats_per_minute;
    const number = el("p", { class: "length", id: "bpm" }, this.words.number(bpm));
    const step = (by) => { bpm = Math.min(140, Math.max(50, bpm + by)); number.textContent = this.words.number(bpm); if (this.player?.running) this.player.change(bpm); };
    const start = () => {
      if (this.player?.running) return this.silence();
      const player = this.audio();
      [this.backs, this.shown] = [[], []];
      player.start({ beatsPerMinute: bpm, countInBeats: COUNT_IN, rest: 5 });
      this.beatRunning();
      setTimeout(() => { latency.textContent = this.say("latency", { ms: this.words.number(1000 * outputLatency(this.context)) }); }, 800);
    };
    const latency = el("p", { class: "soft" });
    this.show("beat", this.head(this.say("beat_only")), number, el("p", { class: "centre soft" }, this.say("beats_minute")), this.beatPart(),
      button(this.say("play_beat"), start, "big", { id: "main" }), el("div", { class: "pair" }, button(`− ${this.say("slower")}`, () => step(-1)), button(`+ ${this.say("faster")}`, () => step(1))), latency);
  }

  async keepAwake() {
    try { this.lock = await navigator.wakeLock?.request("screen"); } catch { /* the screen may go dark; the beat goes on */ }
  }

  // -- listening -------------------------------------------------------------------------------------

  micScreen(problem = "") {
    const latency = this.listener?.latency();
    const state = this.listener ? (latency ? this.say(`latency_${latency.by}`, { ms: this.words.number(1000 * latency.value), sd: this.words.number(1000 * latency.sd, 1), count: latency.count }) : this.say("latency_none")) : "";
    this.show("mic", this.head(this.say("listening")), el("p", {}, this.say("mic_why")), problem ? el("p", { class: "warning" }, problem) : null,
      button(this.say(this.listener ? "mic_off" : "mic_on"), () => (this.listener ? this.micOff() : this.micOn()), "big"),
      el("p", { id: "mic-state", "data-delay": latency?.value ?? "" }, state), this.listener ? button(this.say("calibrate"), () => this.calibrate(), "wide", { id: "calibrate" }) : null, el("div", { id: "timing" }));
    this.showTiming("each");
  }

  async micOn() {
    this.audio();
    const source = document.getElementById("practice-worklet")?.textContent;
    const url = source ? `data:text/javascript,${encodeURIComponent(source)}` : data.config.worklet_url;
    const listener = new Listener(this.context, url);
    try {
      await listener.open();
    } catch {
      return this.micScreen(this.say("mic_refused"));
    }
    listener.onClick = (click) => this.clicked(click);
    this.listener = listener;
    this.micScreen();
  }

  micOff() {
    this.listener.close();
    this.listener = null;
    this.micScreen();
  }

  calibrate() {
    const player = this.audio();
    const interval = 60 / this.payload.plan.beats_per_minute;
    this.listener.mode({ remembers: false });
    this.calibration = { beats: [], claps: [] };
    const run = this.calibration;
    this.shown = [];
    player.start({ beatsPerMinute: this.payload.plan.beats_per_minute, countInBeats: Infinity, most: Math.round(CALIBRATION_S / interval) });
    const tick = setInterval(async () => {
      const delays = clapDelays(run.claps, run.beats, interval);
      const state = document.getElementById("mic-state");
      if (state) state.textContent = this.say("calibrating", { count: run.claps.length });
      if (player.running && this.calibration === run && state) return;
      clearInterval(tick);
      this.calibration = null;
      this.listener?.mode({ remembers: true });
      const middle = middleOf(delays);
      if (middle && this.listener) {
        this.listener.claps = middle;
        const latency = this.listener.latency();
        if (latency) await this.keep([this.item("calibration", { latency_s: latency.value, latency_sd_s: latency.sd, by: latency.by, count: latency.count })]);
      }
      if (page.dataset.screen === "mic") this.micScreen();
    }, 250);
  }

  clicked(click) {
    if (this.calibration) {
      if (this.calibration.beats.length > 4) this.calibration.claps.push(click.time_s);
      return;
    }
    const latency = this.listener.latency();
    if (!latency || !this.backs?.length || page.dataset.screen !== "putt") return;
    const interval = 60 / this.payload.plan.beats_per_minute;
    const share = contactShare(this.stationFor(this.current.asked_m));
    const errors = this.backs.map((back) => beatError(click.time_s, back.time_s, interval, share, latency.value));
    const error_s = errors.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a));
    // Between the back beat and half a beat past the through beat; the strongest sound there is the contact.
    if (error_s < -share * interval || error_s > (1.5 - share) * interval) return;
    if (this.contact && this.contact.strength_db > click.strength_db) return;
    this.contact = { error_s, sd_s: Math.hypot(click.sd_s, latency.sd || 0), strength_db: click.strength_db };
    this.showTiming(this.session.blocks[this.current.block].feedback_mode);
    clearTimeout(this.afterContact);
    this.afterContact = setTimeout(() => { if (page.dataset.screen === "putt") this.afterPutt(); }, AFTER_CONTACT_MS);
  }

  async showTiming(mode) {
    const place = document.getElementById("timing");
    if (!place || !this.listener || !["each", "guess"].includes(mode)) return;
    const earlier = (await this.journal.putts()).map((putt) => putt.contact_error_s).filter((error) => error !== null && error !== undefined);
    const errors = [...earlier, ...(this.contact ? [this.contact.error_s] : [])].slice(-10);
    if (errors.length === 0) return;
    const last = errors.at(-1);
    const middle = middleOf(errors);
    const figures = errors.length > 1 ? this.say("beat_spread", { middle: this.words.number(1000 * middle.value), spread: this.words.number(1000 * middle.spread) }) : "";
    place.replaceChildren(el("p", {}, this.say("contact_at", { ms: this.words.number(Math.abs(1000 * last)), side: this.say(last > 0 ? "late" : "early") })), beatPicture(errors, middle, this.words), el("p", { class: "soft" }, `${this.say("last_ten")} ${figures}`));
  }

  // -- noting ----------------------------------------------------------------------------------------

  afterPutt() {
    clearTimeout(this.afterContact);
    this.silence();
    const block = this.session.blocks[this.current.block];
    if (block.feedback_mode === "guess") this.guessScreen();
    else this.noteScreen();
  }

  quick(onPick, isGuess) {
    const row = (side, sign) => el("div", { class: "quick" }, el("span", {}, this.say(side)), ...this.words.quickLengths().map((length) => button(this.words.near(length).replace(" cm", ""), () => onPick(sign * length), "", { "aria-label": this.say(`was_${side}`, { length: this.words.near(length) }) })));
    return el("div", {}, row("past", 1), button(this.say(isGuess ? "guess_holed" : "holed"), () => onPick(0), "wide", { id: "holed" }), row("short", -1));
  }

  guessScreen() {
    this.show("guess", this.head(this.words.walked(this.current.asked_m), () => this.putt()), el("h2", {}, this.say("guess")),
      this.quick((past_m) => { this.guess_m = this.current.asked_m + past_m; this.noteScreen(); }, true));
  }

  noteScreen() {
    const { asked_m } = this.current;
    this.show("note", this.head(this.words.walked(asked_m), () => this.putt()), el("h2", {}, this.say("where")),
      greenPicture(asked_m, this.words, ({ past_m, left_m }) => this.note({ finish_along_m: asked_m + past_m, finish_across_m: left_m, holed: false, finish_along_sd_m: FINISH_SD_M })),
      this.quick((past_m) => this.note(past_m === 0 ? { finish_along_m: null, finish_across_m: null, holed: true, finish_along_sd_m: null }
        : { finish_along_m: asked_m + past_m, finish_across_m: null, holed: false, finish_along_sd_m: QUICK_SD_SHARE * Math.abs(past_m) }), false));
  }

  async note(finish) {
    if (this.noting) return;
    this.noting = true;
    const now = this.current;
    const block = this.session.blocks[now.block];
    const putt = this.item("putt", {
      session: this.session.number, session_kind: this.session.kind, run: this.state.run, block: now.block, block_title: block.title, is_recorded: block.is_recorded,
      number: now.number, asked_m: now.asked_m, ...finish, guess_along_m: this.guess_m, beats_per_minute: now.beat ? this.payload.plan.beats_per_minute : null,
      markers: block.markers, contact_error_s: this.contact?.error_s ?? null, contact_error_sd_s: this.contact?.sd_s ?? null,
    });
    await this.keep([putt], { ...this.state, position: this.state.position + 1, last: putt.id });
    this.noting = false;
    const flash = this.say("noted", { what: this.describe(putt) }) + this.guessWords(putt);
    this.tell(flash);
    if (now.is_last) this.blockEnd(block, flash);
    else this.putt(flash);
  }

  describe(putt) {
    if (putt.holed) return this.say("was_holed");
    const past = putt.finish_along_m - putt.asked_m;
    return this.say(past < 0 ? "was_short" : "was_past", { length: this.words.near(Math.abs(past)) });
  }

  guessWords(putt) {
    if (putt.guess_along_m === null || putt.finish_along_m === null) return "";
    return `, ${this.say("guess_off", { length: this.words.near(Math.abs(putt.guess_along_m - putt.finish_along_m)) })}`;
  }

  async undo() {
    const { last } = this.state;
    await this.keep([this.item("undo", { of: last })], { ...this.state, position: this.state.position - 1, last: null });
    this.putt();
  }

  async blockPutts(index) {
    return (await this.journal.putts()).filter((putt) => putt.run === this.state.run && (index === null || putt.block === index));
  }

  figuresWords(putts) {
    const figures = distanceFigures(putts);
    if (!figures) return this.say("few");
    const percent = (share) => `${this.words.number(Math.abs(100 * share), 1)} %`;
    return this.say("figures", { count: putts.length, mean: percent(figures.mean), side: this.say(figures.mean < 0 ? "on_average_short" : "on_average_long"), spread: percent(figures.spread) });
  }

  async blockEnd(block, flash) {
    const putts = await this.blockPutts(this.session.blocks.indexOf(block));
    const minutes = (Date.now() - this.state.rested_at) / 60000;
    const isTired = minutes >= this.payload.rest_every_minutes;
    if (isTired) await this.keep([], { ...this.state, rested_at: Date.now() });
    const figures = el("p", {}, this.figuresWords(putts));
    const request = block.feedback_mode === "request" ? button(this.say("show_feedback"), (event) => event.target.replaceWith(figures), "wide") : figures;
    this.show("block", this.head(this.say("block_done")), el("p", { class: "flash" }, flash), el("h2", {}, block.title), request,
      isTired ? el("p", { class: "warning" }, this.say("rest")) : null, button(this.say("next_block"), () => this.putt(), "big"), this.syncLine());
    this.showSync();
  }

  async endSession() {
    const putts = await this.blockPutts(null);
    const number = this.session.number;
    await this.keep([this.item("session-end", { session: number, run: this.state.run, putts: putts.length })], { ...this.state, session: null, last: null, done: [...new Set([...this.state.done, number])] });
    this.show("done", this.head(this.say("session_done")), el("p", {}, this.figuresWords(putts.filter((putt) => putt.is_recorded))), el("p", {}, this.say("done_text", { count: putts.length })),
      button(this.say("results"), () => resultsScreen(this), "big"), this.syncLine());
    this.showSync();
  }
}

new Practice().boot();
