// The station: drag the hole or the beat, and the markers move, drawn to scale.

import { call, say } from "./api.js";
import { tell } from "./forms.js";
import { drawWithin, el, scale, ticks } from "./svg.js";
import { puttText, signed, strokeUnit, units } from "./units.js";
import { BeatPlayer } from "../practice/beat.js";

const byId = (id) => document.getElementById(id);
const place = byId("station");
const box = byId("drawing");
const length = byId("length");
const beat = byId("beat");
const FIELDS = { green: byId("green"), putter: byId("putter") };
const DOT_S = 0.05;
let station = null;
let again = null;
let wayPanel = null;
let asked = 0;
let player = null;

/** Lengths snap to what people pace off: a quarter of a metre, or a foot. */
const snap = (m) => (units === "metric" ? Math.round(m * 4) / 4 : Math.round(m / 0.3048) * 0.3048);
const lengthNow = () => snap(Number(length.value));
const query = () => new URLSearchParams({
  length_m: lengthNow().toFixed(4), beats: beat.value, green: FIELDS.green.value, putter: FIELDS.putter.value,
});

async function ask() {
  const number = ++asked;
  byId("length-out").textContent = puttText(lengthNow());
  byId("beat-out").textContent = say("station.beats", { beats: beat.value });
  length.setAttribute("aria-valuetext", puttText(lengthNow()));
  byId("strip").href = `/players/${place.dataset.player}/station/strip.pdf?${query()}`;
  byId("wav").href = `/players/${place.dataset.player}/station/beats.wav?beats=${beat.value}`;
  try {
    const answer = await fetch(`/players/${place.dataset.player}/station/part?${query()}`, { headers: { Accept: "text/html" } });
    const text = await answer.text();
    if (number !== asked) return; // a newer question is on its way
    if (!answer.ok) throw new Error(new DOMParser().parseFromString(text, "text/html").querySelector(".big")?.textContent ?? String(answer.status));
    const table = byId("station-table");
    table.innerHTML = text;
    station = JSON.parse(table.querySelector("[data-drawing]").textContent);
    byId("station-words").textContent = station.words;
    byId("station-status").textContent = "";
    if (again) again();
    else again = drawWithin(box, draw);
  } catch (error) {
    tell(byId("station-status"), error);
  }
}

function draw(width) {
  const picture = el("svg", { role: "group", "aria-label": say("station.drawing") });
  const middle = drawPutt(picture, width);
  const height = drawMarkers(picture, width, middle);
  picture.setAttribute("viewBox", `0 0 ${width} ${height}`);
  picture.setAttribute("width", width);
  picture.setAttribute("height", height);
  const hadFocus = document.activeElement?.closest?.(".handle") && box.contains(document.activeElement);
  box.replaceChildren(picture);
  if (hadFocus) box.querySelector(".handle").focus();
}

/** The putt to scale, its hole a handle. */
function drawPutt(picture, width) {
  const most = Number(length.max);
  wayPanel = scale([0, most], [18, width - 30]);
  const y = 48;
  const unit = units === "metric" ? 1 : 0.3048;
  picture.append(el("line", { x1: wayPanel(0), x2: wayPanel(most), y1: y, y2: y, class: "ruleline" }));
  for (const value of ticks(0, most / unit, width / 70).values) {
    const x = wayPanel(value * unit);
    picture.append(el("line", { x1: x, x2: x, y1: y, y2: y + 5, class: "ink" }), el("text", { x, y: y + 20, "text-anchor": "middle", class: "soft" }, signed(value, 0)));
  }
  picture.append(
    el("line", { x1: wayPanel(0), x2: wayPanel(station.length_m), y1: y, y2: y, class: "ink", "stroke-width": 2 }),
    el("circle", { cx: wayPanel(0), cy: y, r: 5, class: "ball" }),
  );
  const handle = el("g", {
    class: "handle", tabindex: 0, role: "slider", "aria-label": say("station.hole"), "aria-valuemin": 1, "aria-valuemax": most,
    "aria-valuenow": station.length_m.toFixed(2), "aria-valuetext": station.putt, transform: `translate(${wayPanel(station.length_m)} ${y})`,
  }, el("rect", { class: "hit", x: -22, y: -34, width: 44, height: 56 }),
  el("line", { class: "ink", x1: 0, x2: 0, y1: -26, y2: 0, "stroke-width": 2 }),
  el("path", { class: "grip", d: "M0 -28l18 6l-18 7z" }),
  el("circle", { class: "grip", r: 7 }),
  el("text", { x: station.length_m > most * 0.75 ? -12 : 22, y: -16, "text-anchor": station.length_m > most * 0.75 ? "end" : "start" }, station.putt));
  picture.append(handle);
  return y + 60;
}

/** The markers to scale, with the swing between them as dots of equal time (the law of docs/methods/station.md). */
function drawMarkers(picture, width, top) {
  const unit = strokeUnit();
  const { back_m: back, through_m: through, band_m: band, beat_s: beatTime } = station;
  const reach = Math.max(back, band[1], through) * 1.25;
  const x = scale([-reach, reach], [10, width - 10]);
  const y = top + 66;
  const ball = 0.0427;
  picture.append(
    el("rect", { x: x(-band[1]), y: y - 30, width: x(-band[0]) - x(-band[1]), height: 60, class: "roombar" }),
    el("line", { x1: x(-back), x2: x(through), y1: y, y2: y, class: "softline" }),
    el("circle", { cx: x(ball / 2), cy: y, r: Math.max((x(ball) - x(0)) / 2, 3), class: "ball" }),
    el("line", { x1: x(-back), x2: x(-back), y1: y - 38, y2: y + 38, class: "way-back", "stroke-width": 5 }),
    el("line", { x1: x(through), x2: x(through), y1: y - 38, y2: y + 38, class: "way-through", "stroke-width": 5, "stroke-dasharray": "9 4" }),
    el("text", { x: x(-back), y: y - 46, "text-anchor": "middle", class: "word-back" }, station.back),
    el("text", { x: x(through), y: y - 46, "text-anchor": "middle", class: "word-through" }, station.through),
    el("text", { x: x(-back), y: y + 56, "text-anchor": "middle" }, say("station.marker.back")),
    el("text", { x: x(through), y: y + 56, "text-anchor": "middle" }, say("station.marker.through")),
  );
  for (let t = 0; t <= beatTime + 1e-9; t += DOT_S) {
    const at = (through - back) / 2 - ((through + back) / 2) * Math.cos((Math.PI * t) / beatTime);
    picture.append(el("circle", { cx: x(at), cy: y, r: 4, class: "dot-through" }));
  }
  const foot = y + 78;
  picture.append(el("line", { x1: 10, x2: width - 10, y1: foot, y2: foot, class: "ink" }));
  const marks = ticks(-reach / unit.size_m, reach / unit.size_m, width / 42);
  for (const value of marks.values) {
    const at = x(value * unit.size_m);
    picture.append(el("line", { x1: at, x2: at, y1: foot, y2: foot + 5, class: "ink" }), el("text", { x: at, y: foot + 20, "text-anchor": "middle" }, signed(value, marks.decimals)));
  }
  picture.append(el("text", { x: width / 2, y: foot + 38, "text-anchor": "middle", class: "soft" }, `${unit.symbol}, ${say("draw.along")}`));
  return foot + 46;
}

function setLength(m) {
  length.value = Math.min(Math.max(snap(m), Number(length.min)), Number(length.max));
  ask();
}

let held = false;
box.addEventListener("pointerdown", (event) => {
  if (!event.target.closest(".handle")) return;
  event.preventDefault();
  held = true;
  box.setPointerCapture(event.pointerId);
});
box.addEventListener("pointermove", (event) => {
  if (held) setLength(wayPanel.back(event.clientX - box.getBoundingClientRect().left - parseFloat(getComputedStyle(box).paddingLeft)));
});
for (const end of ["pointerup", "pointercancel"]) box.addEventListener(end, () => { held = false; });
box.addEventListener("keydown", (event) => {
  const steps = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -4, PageUp: 4 }[event.key];
  if (!steps || !event.target.closest(".handle")) return;
  event.preventDefault();
  setLength(lengthNow() + steps * (units === "metric" ? 0.25 : 0.3048));
});
for (const field of [length, beat]) field.addEventListener("input", ask);
for (const field of Object.values(FIELDS)) field.addEventListener("change", ask);
beat.addEventListener("input", () => player?.running && player.change(Number(beat.value)));

byId("play").addEventListener("click", async () => {
  const button = byId("play");
  const goes = button.getAttribute("aria-pressed") === "true";
  if (goes) player.stop();
  else {
    player ??= new BeatPlayer(new AudioContext());
    await player.context.resume();
    player.start({ beatsPerMinute: Number(beat.value) });
  }
  button.setAttribute("aria-pressed", String(!goes));
  button.textContent = say(goes ? "station.play" : "station.stop");
});
byId("keep-station").addEventListener("click", async () => {
  try {
    await call("POST", `/api/v1/players/${place.dataset.player}/stations`, {
      lengths_m: [lengthNow()], beats_per_minute: Number(beat.value), green_id: FIELDS.green.value, putter_id: FIELDS.putter.value || null,
    });
    location.reload();
  } catch (error) {
    tell(byId("station-status"), error);
  }
});
ask();
