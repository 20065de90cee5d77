// Pictures: markers to scale, the green round the target, the last ten against the beat.

const NS = "http://www.w3.org/2000/svg";

export function draw(name, attributes = {}, ...children) {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}

const text = (x, y, words, extra = {}) => draw("text", { x, y, "text-anchor": "middle", ...extra }, words);

/** Ball and both markers, with the band in which the back marker keeps the distance; one scale for all putts. */
export function markerPicture(station, longest_m, words) {
  const scale = 150 / longest_m;
  const [x0, y0] = [180, 62];
  const back = x0 - station.back_marker_m * scale;
  const through = x0 + station.through_marker_m * scale;
  const [low, high] = station.back_marker_band_m.map((length) => x0 - length * scale);
  const shoe = 0.1 * scale;
  return draw("svg", { viewBox: "0 0 360 112", role: "img", "aria-label": words.say("markers_alt", {
    back: words.near(station.back_marker_m), through: words.near(station.through_marker_m) }) },
  draw("rect", { x: high, y: y0 - 30, width: low - high, height: 60, class: "band" }),
  draw("line", { x1: 14, y1: y0, x2: 346, y2: y0, class: "line" }),
  draw("path", { d: "M346 62 l-9 -5 v10 z", class: "ink" }),
  draw("line", { x1: back, y1: y0 - 26, x2: back, y2: y0 + 26, class: "back-line" }),
  draw("line", { x1: through, y1: y0 - 26, x2: through, y2: y0 + 26, class: "through-line" }),
  draw("circle", { cx: x0, cy: y0, r: Math.max(0.0213 * scale, 5), class: "ball" }),
  ...[0, 1, 2].map((k) => draw("line", { x1: x0 - k * shoe, x2: x0 - k * shoe, y1: y0 + 44, y2: y0 + 50, class: "tick" })),
  draw("line", { x1: x0 - 2 * shoe, x2: x0, y1: y0 + 47, y2: y0 + 47, class: "tick" }),
  draw("text", { x: x0 + 8, y: y0 + 48, class: "small" }, words.say("scale_20", { length: words.near(0.2) })),
  text(back, 24, "2", { class: "back-text" }), text(through, 24, "3", { class: "through-text" }));
}

/** The green round the target, seen from above, the putt going up the page; a tap says where the ball lies. */
export function greenPicture(asked_m, words, onPlace) {
  const reach = Math.max(1.5, 0.3 * asked_m);
  const scale = 150 / reach;
  const svg = draw("svg", { viewBox: "0 0 320 330", class: "green", tabindex: "0", role: "application",
    "aria-label": words.say("green_alt") });
  const ring = reach > 2.4 ? 1 : 0.5;
  svg.append(draw("rect", { x: 1, y: 1, width: 318, height: 328, rx: 10, class: "field" }));
  for (let radius = ring; radius <= reach; radius += ring) {
    svg.append(draw("circle", { cx: 160, cy: 165, r: radius * scale, class: "ring" }));
    svg.append(draw("text", { x: 164, y: 165 - radius * scale - 3, class: "small" }, words.near(radius)));
  }
  svg.append(draw("line", { x1: 160, y1: 329, x2: 160, y2: 1, class: "aim" }),
    draw("circle", { cx: 160, cy: 165, r: 7, class: "target" }),
    draw("text", { x: 12, y: 24, class: "label" }, words.say("past")),
    draw("text", { x: 12, y: 318, class: "label" }, words.say("short")));
  const ball = draw("circle", { r: 9, class: "ball", visibility: "hidden" });
  svg.append(ball);
  const place = { x: 160, y: 165 };
  const show = () => { ball.setAttribute("cx", place.x); ball.setAttribute("cy", place.y); ball.setAttribute("visibility", "visible"); };
  const done = () => onPlace({ past_m: (165 - place.y) / scale, left_m: (160 - place.x) / scale });
  svg.addEventListener("pointerup", (event) => {
    const box = svg.getBoundingClientRect();
    place.x = (event.clientX - box.left) * 320 / box.width;
    place.y = (event.clientY - box.top) * 330 / box.height;
    show();
    done();
  });
  svg.addEventListener("keydown", (event) => {
    const step = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key];
    if (step) {
      event.preventDefault();
      place.x += step[0] * 0.1 * scale;
      place.y += step[1] * 0.1 * scale;
      show();
    } else if (event.key === "Enter") done();
  });
  return svg;
}

/** The last ten contacts against the beat, early to the left; the newest is filled. */
export function beatPicture(errors_s, middle, words) {
  const reach = Math.max(0.1, ...errors_s.map(Math.abs)) * 1.1;
  const x = (error) => 170 + 150 * error / reach;
  const svg = draw("svg", { viewBox: "0 0 340 92", role: "img", "aria-label": words.say("last_ten") });
  if (middle) svg.append(draw("rect", { x: x(middle.value - middle.spread), y: 14, width: Math.max(2, x(middle.value + middle.spread) - x(middle.value - middle.spread)), height: 46, class: "band" }));
  svg.append(draw("line", { x1: 14, x2: 326, y1: 60, y2: 60, class: "line" }), draw("line", { x1: 170, x2: 170, y1: 12, y2: 66, class: "tick" }));
  errors_s.forEach((error, k) => svg.append(draw("circle", { cx: x(error), cy: 54 - (k % 4) * 11, r: 6, class: k === errors_s.length - 1 ? "newest" : "older" })));
  svg.append(draw("text", { x: 14, y: 82, class: "label" }, words.say("early")), text(170, 82, "0", { class: "label" }),
    draw("text", { x: 326, y: 82, "text-anchor": "end", class: "label" }, words.say("late")));
  return svg;
}
