// Runs beside the page in the audio thread: the detector, and the delay with which our own beats come back.
import { ClickDetector } from "./clicks.js";

const WATCH_S = 0.45;
const WINDOW = 6; // steps of a millisecond
// A window of 6 ms that ends this long after the onset holds half the amplitude of the best one: from the shape
// of the tone (2 ms of attack, then falling to 1/e in 14 ms).
const HALF_S = 0.0036;

class PracticeListener extends AudioWorkletProcessor {
  constructor() {
    super();
    this.restart(true);
    this.watched = [];
    this.port.onmessage = ({ data }) => {
      if (data.remembers !== undefined) this.restart(data.remembers);
      if (data.beats) this.awaitBeats(data.beats);
      if (data.watch) this.watched.push({ ...data.watch, frame: Math.round(data.watch.time_s * sampleRate), sums: [] });
      if (data.forgetAfter !== undefined && this.detector) this.detector.dropBeatsAfter(data.forgetAfter - this.firstFrame / sampleRate);
    };
  }

  restart(remembers) {
    this.remembers = remembers;
    this.detector = null;
    this.waiting = [];
  }

  /** Beats in the time of the context; the detector counts from its own first sample. */
  awaitBeats(beats) {
    if (!this.detector) {
      this.waiting.push(...beats);
      return;
    }
    const offset = this.firstFrame / sampleRate;
    this.detector.addBeats(beats.map(({ time_s, tone }) => ({ time_s: time_s - offset, tone })));
  }

  process(inputs) {
    const samples = inputs[0]?.[0];
    if (!samples) return true;
    // A gap in the frames would shift every later time: begin anew.
    if (this.detector && currentFrame !== this.expectedFrame) {
      this.port.postMessage({ gap: currentFrame - this.expectedFrame });
      this.restart(this.remembers);
    }
    if (!this.detector) {
      this.firstFrame = currentFrame;
      this.detector = new ClickDetector(sampleRate, [], { remembers: this.remembers });
      this.awaitBeats(this.waiting.splice(0));
    }
    this.expectedFrame = currentFrame + samples.length;
    for (const click of this.detector.push(samples)) {
      this.port.postMessage({ click: { ...click, time_s: click.time_s + this.firstFrame / sampleRate } });
    }
    this.watch(samples);
    return true;
  }

  /** The energy at the pitch of a beat, millisecond by millisecond after it was to sound. */
  watch(samples) {
    const step = Math.round(sampleRate / 1000);
    for (const beat of this.watched) {
      for (let n = 0; n < samples.length; n += 1) {
        const at = currentFrame + n - beat.frame;
        if (at < 0) continue;
        const slot = Math.floor(at / step);
        const sum = (beat.sums[slot] ??= [0, 0]);
        const angle = 2 * Math.PI * beat.pitch_hz * at / sampleRate;
        sum[0] += samples[n] * Math.cos(angle);
        sum[1] += samples[n] * Math.sin(angle);
      }
    }
    const over = this.watched.filter((beat) => beat.sums.length > WATCH_S * 1000);
    this.watched = this.watched.filter((beat) => beat.sums.length <= WATCH_S * 1000);
    for (const beat of over) this.port.postMessage({ heardBeat: delayOf(beat.sums) });
  }
}

/** Delay of the tone's onset in seconds, and how far its energy stands out. */
function delayOf(sums) {
  const amplitude = sums.map((_, k) => {
    let [re, im] = [0, 0];
    for (const sum of sums.slice(k, k + WINDOW)) { re += sum[0]; im += sum[1]; }
    return Math.hypot(re, im);
  });
  const most = Math.max(...amplitude);
  const usual = [...amplitude].sort((a, b) => a - b)[amplitude.length >> 1];
  const after = amplitude.findIndex((value) => value > 0.5 * most);
  const before = amplitude[after - 1] ?? 0;
  const rest = (amplitude[after] - 0.5 * most) / Math.max(amplitude[after] - before, 1e-30);
  const step = Math.round(sampleRate / 1000) / sampleRate;
  return { delay_s: (after - rest + WINDOW) * step - HALF_S, contrast: (most / Math.max(usual, 1e-30)) ** 2 };
}

registerProcessor("practice-listener", PracticeListener);
