// Words and figures for people.

const FOOT_M = 0.3048;
const INCH_M = 0.0254;

export class Words {
  constructor(messages, language, units) {
    this.messages = messages;
    this.language = messages[language] ? language : "en";
    this.units = units;
  }

  say(key, values = {}) {
    const text = this.messages[this.language][key] ?? this.messages.en[key] ?? key;
    return text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  }

  number(value, decimals = 0) {
    return new Intl.NumberFormat(this.language, { maximumFractionDigits: decimals, minimumFractionDigits: decimals }).format(value);
  }

  /** Length of a putt: 3.05 m, 10 ft. */
  walked(length_m) {
    if (this.units === "imperial") return `${this.number(length_m / FOOT_M, Math.abs(length_m / FOOT_M - Math.round(length_m / FOOT_M)) < 0.05 ? 0 : 1)} ft`;
    return `${this.number(length_m, Math.abs(length_m * 10 - Math.round(length_m * 10)) < 0.05 ? 1 : 2)} m`;
  }

  /** Length at the ball: 32 cm, 12 1/2 in. */
  near(length_m) {
    if (this.units !== "imperial") return `${this.number(length_m * 100)} cm`;
    const halves = Math.round(2 * length_m / INCH_M);
    return `${Math.floor(halves / 2)}${halves % 2 ? "½" : ""} in`;
  }

  quickLengths() {
    return this.units === "imperial" ? [0.5, 1, 2, 4].map((feet) => feet * FOOT_M) : [0.2, 0.5, 1, 1.5];
  }
}
