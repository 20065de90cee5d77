// Drawing by hand: elements, scales and ticks. One unit is one pixel, so that text keeps its size on a telephone.

const SPACE = "http://www.w3.org/2000/svg";

/** An element with attributes and children (strings become text). */
export function el(name, attributes = {}, ...children) {
  const made = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(attributes)) if (value !== null && value !== undefined) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** A straight scale from values to pixels, with its way back. */
export function scale([from, to], [start, end]) {
  const slope = (end - start) / (to - from);
  const there = (value) => start + (value - from) * slope;
  there.back = (place) => from + (place - start) / slope;
  return there;
}

/** Round values to mark on an axis. */
export function ticks(from, to, most) {
  const rough = (to - from) / Math.max(most, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => one >= rough);
  const found = [];
  for (let k = Math.ceil(from / step - 1e-9); k * step <= to + 1e-9; k += 1) found.push(k * step);
  return { values: found, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

/** The value of a series at a place between its points; `at` ascends. */
export function interpolate(at, values, where) {
  let low = 0;
  let high = at.length - 1;
  if (where <= at[0]) return values[0];
  if (where >= at[high]) return values[high];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (at[middle] <= where) low = middle;
    else high = middle;
  }
  const share = (where - at[low]) / (at[high] - at[low]);
  return values[low] + share * (values[high] - values[low]);
}

/** Draw into a box at its width, and again whenever that changes. */
export function drawWithin(box, draw) {
  let width = 0;
  const again = () => {
    const now = Math.floor(box.clientWidth - parseFloat(getComputedStyle(box).paddingLeft) * 2);
    if (now > 0) { width = now; draw(width); }
  };
  new ResizeObserver(() => {
    const now = Math.floor(box.clientWidth - parseFloat(getComputedStyle(box).paddingLeft) * 2);
    if (now !== width) again();
  }).observe(box);
  again();
  return again;
}
