// Stroke review: events are moved by hand, by finger, mouse, key or button; the server measures at once.

import { call, say } from "./api.js";
import { tell } from "./forms.js";
import { Drawn, drawDots, drawSpeed } from "./strokes.js";
import { drawWithin, el } from "./svg.js";
import { Clip } from "./clip.js";

const byId = (id) => document.getElementById(id);
const status = byId("review-status");
const box = byId("drawing");
const second = byId("beside") ? new Drawn(JSON.parse(byId("beside").textContent)) : null;
const raw = JSON.parse(byId("stroke").textContent);
const EVENTS = ["takeaway", "top", "impact", "finish"];
const GRIP_ROWS = { takeaway: 0, top: 1, impact: 0, finish: 1 };
const moved = [];
let stroke = null;
let again = null;
let speedPanel = null;
let placePanel = null;
let preview = {}; // events as they are being moved, seconds from contact
let held = null;
let timer = null;
const clip = byId("clip") ? new Clip(raw.frames, (time_s) => cursorAt(time_s - stroke.impact_s)) : null;

function show(data) {
  stroke = new Drawn(data);
  preview = {};
}

const timeOf = (event) => preview[event] ?? stroke.events[event].time_s;

/** One step of an event: a frame of the clip where there is one, else five thousandths of a second. */
const step = () => clip?.step_s ?? 0.005;

/** An event stays between its neighbours. */
function within(event, time_s) {
  const there = EVENTS.filter((name) => stroke.events[name]);
  const k = there.indexOf(event);
  const low = k > 0 ? timeOf(there[k - 1]) + 0.02 : stroke.curve.time_s[0];
  const high = k < there.length - 1 ? timeOf(there[k + 1]) - 0.02 : stroke.curve.time_s.at(-1);
  return Math.min(Math.max(time_s, low), high);
}

function draw(width) {
  const strokes = second ? [stroke, second] : [stroke];
  const focused = document.activeElement?.dataset?.event;
  const dots = el("g");
  const speed = el("g");
  const places = drawDots(dots, strokes, width);
  const top = places.height + 30;
  const height = Math.max(170, Math.min(260, width * 0.42));
  speedPanel = drawSpeed(speed, strokes, width, top, height);
  placePanel = places.x;
  const total = top + height + 118;
  const picture = el("svg", { viewBox: `0 0 ${width} ${total}`, width, height: total, role: "group", "aria-label": say("draw.name") }, dots, speed,
    el("line", { id: "cursor", class: "cursor", y1: top, y2: top + height, display: "none" }),
    el("circle", { id: "head", r: 7, class: "grip", display: "none", fill: "none", stroke: "currentColor", "stroke-width": 2 }));
  // Handles lie under the figures of the axes, which take no pointer.
  picture.prepend(...EVENTS.filter((name) => stroke.events[name]).map((name) => handle(name, top, top + height + 52)));
  box.replaceChildren(picture);
  if (focused) box.querySelector(`[data-event=${focused}]`)?.focus();
}

function handle(name, top, foot) {
  const y = foot + GRIP_ROWS[name] * 34;
  const group = el("g", {
    class: "handle", tabindex: 0, role: "slider", "data-event": name, "aria-label": say(`event.${name}`), "aria-orientation": "horizontal",
    "aria-valuemin": Math.round(stroke.curve.time_s[0] * 1000), "aria-valuemax": Math.round(stroke.curve.time_s.at(-1) * 1000),
  }, el("line", { class: "ink", y1: top, y2: y - 12, x1: 0, x2: 0, "stroke-width": 1.5, "stroke-dasharray": "5 4" }),
  el("rect", { class: "hit", x: -22, y: y - 22, width: 44, height: 44 }),
  el("path", { class: "grip", d: `M0 ${y - 12}l9 9v13h-18v-13z` }),
  el("text", { y: y + 5 }, say(`event.${name}`)));
  place(group, name);
  return group;
}

function place(group, name) {
  const time_s = timeOf(name);
  const x = speedPanel.x(time_s);
  group.setAttribute("transform", `translate(${x.toFixed(2)} 0)`);
  group.setAttribute("aria-valuenow", Math.round(time_s * 1000));
  group.setAttribute("aria-valuetext", say("draw.at", { ms: Math.round(time_s * 1000) }));
  const text = group.querySelector("text");
  const isRight = x > box.clientWidth - 120;
  text.setAttribute("x", isRight ? -15 : 15);
  text.setAttribute("text-anchor", isRight ? "end" : "start");
}

function cursorAt(time_s) {
  const cursor = byId("cursor");
  if (!cursor || !Number.isFinite(time_s)) return;
  const [from, to] = stroke.span;
  const isIn = time_s >= from && time_s <= to;
  const x = speedPanel.x(time_s);
  cursor.setAttribute("x1", x);
  cursor.setAttribute("x2", x);
  cursor.setAttribute("display", x < speedPanel.left ? "none" : "inline");
  const head = byId("head");
  head.setAttribute("display", isIn ? "inline" : "none");
  if (!isIn) return;
  head.setAttribute("cx", placePanel(stroke.placeAt(time_s)));
  head.setAttribute("cy", time_s < stroke.top ? stroke.rows.back : stroke.rows.through);
}

function movePreview(name, time_s) {
  preview[name] = within(name, time_s);
  place(box.querySelector(`[data-event=${name}]`), name);
  clip?.showTime(preview[name] + stroke.impact_s);
  cursorAt(preview[name]);
}

/** Set an event on the server and show what it measured. */
async function commit(name, { isUndo = false } = {}) {
  clearTimeout(timer);
  const time_s = preview[name];
  if (time_s === undefined) return;
  const before = stroke.events[name].time_s + stroke.impact_s;
  status.textContent = say("review.measuring");
  try {
    const standing = await call("PUT", `/api/v1/strokes/${stroke.id}/events/${name}`, { time_s: time_s + stroke.impact_s });
    if (!isUndo) moved.push({ name, time_s: before });
    await load(standing.id);
    status.textContent = say("review.measured", { event: say(`event.${name}`) });
  } catch (error) {
    preview = {};
    again();
    tell(status, error);
  }
  byId("review-undo").hidden = moved.length === 0;
}

async function load(id) {
  const query = new URLSearchParams(location.search);
  const answer = await fetch(`/strokes/${id}/part?${query}`);
  const figures = byId("figures");
  const old = new Map([...figures.querySelectorAll("[data-measure]")].map((row) => [row.dataset.measure, row.querySelector("[data-figure]").textContent]));
  figures.innerHTML = await answer.text();
  for (const row of figures.querySelectorAll("[data-measure]")) {
    row.classList.toggle("changed", old.get(row.dataset.measure) !== row.querySelector("[data-figure]").textContent);
  }
  show(JSON.parse(figures.querySelector("[data-drawing]").textContent));
  history.replaceState(null, "", `/strokes/${id}${query.size ? `?${query}` : ""}`);
  again();
}

const eventOf = (target) => target.closest?.("[data-event]")?.dataset.event;

box.addEventListener("pointerdown", (event) => {
  const name = eventOf(event.target);
  if (!name) return;
  event.preventDefault();
  held = { name, offset: event.clientX - speedPanel.x(timeOf(name)) };
  const grip = box.querySelector(`[data-event=${name}]`);
  grip.classList.add("held");
  grip.focus({ preventScroll: true });
  box.setPointerCapture(event.pointerId);
});
box.addEventListener("pointermove", (event) => {
  if (held) movePreview(held.name, speedPanel.x.back(event.clientX - held.offset));
});
for (const end of ["pointerup", "pointercancel"]) {
  box.addEventListener(end, () => {
    if (!held) return;
    const { name } = held;
    held = null;
    box.querySelector(`[data-event=${name}]`)?.classList.remove("held");
    if (end === "pointerup") commit(name);
  });
}

function nudge(name, steps) {
  movePreview(name, timeOf(name) + steps * step());
  clearTimeout(timer);
  timer = setTimeout(() => commit(name), 600);
}

box.addEventListener("keydown", (event) => {
  const name = eventOf(event.target);
  const steps = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key];
  if (!name) return;
  if (steps) { event.preventDefault(); nudge(name, event.shiftKey ? steps * 5 : steps); }
  if (event.key === "Enter") commit(name);
  if (event.key === "Escape") { clearTimeout(timer); preview = {}; again(); }
});

/** Buttons for who can neither drag nor type. */
function buttons() {
  const row = document.createElement("div");
  row.className = "row";
  const choice = document.createElement("select");
  choice.setAttribute("aria-label", say("draw.event"));
  EVENTS.filter((name) => stroke.events[name]).forEach((name) => choice.add(new Option(say(`event.${name}`), name)));
  const button = (text, label, steps) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", label);
    made.addEventListener("click", () => nudge(choice.value, steps));
    return made;
  };
  const wide = document.createElement("div");
  wide.className = "grow";
  wide.append(choice);
  row.append(wide, button("◂", say("draw.earlier"), -1), button("▸", say("draw.later"), 1));
  box.after(row);
}

byId("take-back").addEventListener("click", async () => {
  const last = moved.pop();
  if (!last) return;
  preview = { [last.name]: last.time_s - stroke.impact_s };
  await commit(last.name, { isUndo: true });
});

if (raw.curve) {
  show(raw);
  again = drawWithin(box, draw);
  buttons();
  clip?.start();
} else {
  box.textContent = say("draw.none");
}
