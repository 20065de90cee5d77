// Lengths as people write them (10ft, 9'6", 3,5 m, 40cm) and as they read them.

const SIZE_M = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, foot: 0.3048, feet: 0.3048, "'": 0.3048, in: 0.0254, inch: 0.0254, '"': 0.0254 };
const NUMBER = /^\s*([+-−]?\s*\d*[.,]?\d+)\s*([a-z'"]*)\s*$/i;
const FEET_AND_INCHES = /^\s*(\d+(?:[.,]\d+)?)\s*(?:ft|feet|foot|'|′|’)\s*(\d+(?:[.,]\d+)?)\s*(?:in|inch|"|″|”)?\s*$/i;

export const units = document.documentElement.dataset.units ?? "metric";
const number = (text) => Number(text.replace(/\s/g, "").replace(",", ".").replace("−", "-"));

/** Metres, or null for what is no length; a bare number is in metres or feet, as the desk is set. */
export function parseLength(text, usual = units === "metric" ? "m" : "ft") {
  const both = FEET_AND_INCHES.exec(text);
  if (both) return number(both[1]) * SIZE_M.ft + number(both[2]) * SIZE_M.in;
  const found = NUMBER.exec(text.replace("′", "'").replace("’", "'").replace("″", '"').replace("”", '"'));
  if (!found) return null;
  const size = SIZE_M[(found[2] || usual).toLowerCase()];
  const value = number(found[1]);
  return size === undefined || !Number.isFinite(value) ? null : value * size;
}

/** Length of a putt as it is named. */
export function puttText(length_m) {
  return units === "metric" ? `${trim(length_m.toFixed(2))} m` : `${trim((length_m / SIZE_M.ft).toFixed(1))} ft`;
}

/** Length of a stroke: centimetres or inches. */
export function strokeUnit() {
  return units === "metric" ? { symbol: "cm", size_m: 0.01 } : { symbol: "in", size_m: 0.0254 };
}

export function speedUnit() {
  return units === "metric" ? { symbol: "m/s", size: 1 } : { symbol: "ft/s", size: 0.3048 };
}

const trim = (text) => (text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text);

/** A number with a true minus sign. */
export function signed(value, decimals) {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? (0).toFixed(decimals) : text.replace("-", "−");
}
