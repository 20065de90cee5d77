// A stroke drawn: equal-time dots along the line, and speed against time, split at contact.

import { say } from "./api.js";
import { el, interpolate, scale, ticks } from "./svg.js";
import { signed, speedUnit, strokeUnit } from "./units.js";

const LARGE_EVERY = 5;

/** A stroke as the server sends it, with what drawing asks of it. */
export class Drawn {
  constructor(data) {
    Object.assign(this, data);
    const { time_s: time, position_m: place, speed_m_s: speed } = data.curve;
    const begin = data.events.takeaway?.time_s ?? time[0];
    const end = data.events.finish?.time_s ?? time[time.length - 1];
    const inside = time.map((t, k) => t >= begin - 1e-9 && t <= end + 1e-9 && place[k] !== null && speed[k] !== null);
    this.time = time.filter((_, k) => inside[k]);
    this.place = place.filter((_, k) => inside[k]);
    this.speed = speed.filter((_, k) => inside[k]);
    this.hasContact = data.kind === "putt" && data.curve.speed_after_m_s !== null;
    this.top = data.events.top?.time_s ?? this.time[this.place.indexOf(Math.min(...this.place))];
  }

  placeAt(t) { return interpolate(this.time, this.place, t); }

  speedAt(t) { return interpolate(this.time, this.speed, t); }

  get span() { return [this.time[0], this.time[this.time.length - 1]]; }

  /** Where the head is at whole steps of time counted from contact. */
  dots() {
    const [from, to] = this.span;
    const found = [];
    for (let k = Math.ceil(from / this.step_s - 1e-9); k <= Math.floor(to / this.step_s + 1e-9); k += 1) {
      const t = k * this.step_s;
      found.push({ t, x: this.placeAt(t), isLarge: k % LARGE_EVERY === 0, goesBack: t < this.top });
    }
    return found;
  }

  /** The curve in three parts that are never joined. */
  parts() {
    const parts = { back: [], through: [], after: [] };
    this.time.forEach((t, k) => {
      const part = t <= this.top ? "back" : t > 0 && this.hasContact ? "after" : "through";
      if (part === "through" && !parts.through.length && parts.back.length) parts.through.push(parts.back.at(-1));
      if (part === "after" && !parts.after.length) parts.after.push([0, this.curve.speed_after_m_s]);
      parts[part].push([t, this.speed[k]]);
    });
    return parts;
  }
}

/** Equal-time dots of one or two strokes in a group `width` wide. Returns its height and the scale of places. */
export function drawDots(group, strokes, width) {
  const unit = strokeUnit();
  const all = strokes.flatMap((stroke) => stroke.place);
  const ball = strokes[0].ball_m;
  const low = Math.min(...all, -0.1);
  const high = Math.max(...all, ball, 0.1);
  const room = 0.04 * (high - low);
  const x = scale([low - room, high + room], [0, width]);
  const radius = Math.max((x(ball) - x(0)) / 2, 3);
  const row = Math.max(30, radius * 2 + 8);
  let y = 22;
  strokes.forEach((stroke, number) => {
    const back = y + 8;
    const through = back + row;
    const [, to] = stroke.span;
    const top = stroke.placeAt(stroke.top);
    group.append(
      el("line", { x1: x(top), x2: x(0), y1: back, y2: back, class: "softline", "stroke-width": 0.75 }),
      el("line", { x1: x(top), x2: x(stroke.placeAt(to)), y1: through, y2: through, class: "softline", "stroke-width": 0.75 }),
      el("circle", { cx: x(ball / 2), cy: through, r: radius, class: "ball" }),
      el("line", { x1: x(0), x2: x(0), y1: back - 10, y2: through + 12, class: "ink", "stroke-width": 1.5 }),
      el("text", { x: x(top), y: back - 12, class: "word-back" }, strokes.length > 1 ? `${number + 1}: ${say("draw.back")}` : `← ${say("draw.back")}`),
    );
    if (strokes.length === 1) group.append(el("text", { x: width, y: through + row * 0.5 + 10, class: "word-through", "text-anchor": "end" }, `${say("draw.through")} →`));
    for (const dot of stroke.dots()) {
      group.append(el("circle", {
        cx: x(dot.x), cy: dot.goesBack ? back : through, r: dot.isLarge ? 5 : 3, class: dot.goesBack ? "dot-back" : "dot-through",
      }));
    }
    stroke.rows = { back, through };
    y = through + row * 0.6 + 12;
  });
  const marks = ticks((low - room) / unit.size_m, (high + room) / unit.size_m, width / 70);
  group.append(el("line", { x1: 0, x2: width, y1: y, y2: y, class: "ink" }));
  for (const value of marks.values) {
    const place = x(value * unit.size_m);
    if (place < 12 || place > width - 12) continue;
    group.append(
      el("line", { x1: place, x2: place, y1: y, y2: y + 5, class: "ink" }),
      el("text", { x: place, y: y + 19, "text-anchor": "middle" }, signed(value, marks.decimals)),
    );
  }
  group.append(el("text", { x: width / 2, y: y + 37, "text-anchor": "middle", class: "soft" }, `${unit.symbol}, ${say("draw.along")}`));
  return { height: y + 44, x };
}

/** Speed against time of one or two strokes. Returns the scale of time and the span of heights. */
export function drawSpeed(group, strokes, width, top, height) {
  const unit = speedUnit();
  const left = 46;
  const all = strokes.flatMap((stroke) => [...stroke.speed, stroke.hasContact ? stroke.curve.speed_after_m_s : 0]).map((one) => one / unit.size);
  const spans = strokes.map((stroke) => stroke.span);
  const from = Math.min(...spans.map((one) => one[0])) - 0.06;
  const to = Math.max(...spans.map((one) => one[1])) + 0.06;
  const x = scale([from, to], [left, width]);
  const low = Math.min(...all);
  const high = Math.max(...all);
  const room = 0.1 * (high - low);
  const y = scale([low - room, high + room], [top + height, top]);
  const steps = ticks(low - room, high + room, 7);
  for (const value of steps.values) {
    group.append(
      el("line", { x1: left, x2: width, y1: y(value), y2: y(value), class: value === 0 ? "ink" : "ruleline" }),
      el("text", { x: left - 8, y: y(value) + 4, "text-anchor": "end" }, signed(value, steps.decimals)),
    );
  }
  const marks = ticks(from, to, width / 80);
  for (const value of marks.values) {
    group.append(el("text", { x: x(value), y: top + height + 18, "text-anchor": "middle" }, signed(value, marks.decimals)));
  }
  group.append(
    el("text", { x: left, y: top - 8, class: "soft" }, `${say("draw.speed")}, ${unit.symbol}`),
    el("text", { x: width, y: top + height + 36, "text-anchor": "end", class: "soft" }, say("draw.time")),
    el("line", { x1: x(0), x2: x(0), y1: top, y2: top + height, class: "ink", "stroke-width": 1.5 }),
  );
  strokes.forEach((stroke, number) => {
    for (const [part, points] of Object.entries(stroke.parts())) {
      if (!points.length) continue;
      const path = points.map(([t, v], k) => `${k ? "L" : "M"}${x(t).toFixed(1)} ${y(v / unit.size).toFixed(1)}`).join("");
      group.append(el("path", { d: path, class: `line way-${part === "back" ? "back" : "through"}${number ? " other" : ""}` }));
    }
  });
  return { x, y, left, top, bottom: top + height };
}
