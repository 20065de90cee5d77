// The clip of a stroke, frame by frame.

import { say } from "./api.js";
import { signed } from "./units.js";

export class Clip {
  /** `frames`: numbers and capture times of the frames that were looked at; null where they are not known. */
  constructor(frames, onTime) {
    const byId = (id) => document.getElementById(id);
    Object.assign(this, { frames, onTime, video: byId("clip"), scrub: byId("scrub"), status: byId("frame-status"), k: 0 });
    const last = frames ? frames.number.length - 1 : 1000;
    Object.assign(this.scrub, { min: 0, max: last, step: 1, value: 0 });
    this.scrub.addEventListener("input", () => this.go(Number(this.scrub.value)));
    byId("frame-back").addEventListener("click", () => this.go(this.k - 1));
    byId("frame-on").addEventListener("click", () => this.go(this.k + 1));
  }

  /** Show the first frame, now or as soon as the clip can be looked into. */
  start() {
    if (this.video.readyState >= HTMLMediaElement.HAVE_METADATA) this.go(this.k);
    else this.video.addEventListener("loadedmetadata", () => this.go(this.k), { once: true });
  }

  get step_s() {
    if (!this.frames) return 0.005;
    const { time_s } = this.frames;
    return (time_s.at(-1) - time_s[0]) / (time_s.length - 1);
  }

  go(k) {
    this.k = Math.min(Math.max(Math.round(k), 0), Number(this.scrub.max));
    this.scrub.value = this.k;
    if (!this.frames) {
      const share = this.k / Number(this.scrub.max);
      if (Number.isFinite(this.video.duration)) this.video.currentTime = share * this.video.duration;
      return;
    }
    const number = this.frames.number[this.k];
    // The middle of a frame's showing: its edges may round to its neighbour.
    this.video.currentTime = (number + 0.5) / this.frames.play_rate_hz;
    const text = say("draw.frame", { number, time: signed(this.frames.time_s[this.k], 3) });
    this.status.textContent = text;
    this.scrub.setAttribute("aria-valuetext", text);
    this.onTime(this.frames.time_s[this.k]);
  }

  /** Show the frame nearest to a time on the recording's clock. */
  showTime(time_s) {
    if (!this.frames) return;
    const times = this.frames.time_s;
    let best = 0;
    for (let k = 1; k < times.length; k += 1) if (Math.abs(times[k] - time_s) < Math.abs(times[best] - time_s)) best = k;
    this.k = best;
    this.scrub.value = best;
    this.video.currentTime = (this.frames.number[best] + 0.5) / this.frames.play_rate_hz;
  }
}
