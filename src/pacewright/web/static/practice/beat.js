// The beat: scheduled ahead on the audio clock, every start on a whole sample. The tones are those of the click
// track (docs/methods/click-track.md).

export const PITCH_HZ = { "count-in": 698, start: 880, back: 1175, through: 1760, rest: 587 };
export const TONES = Object.keys(PITCH_HZ);
const LOUDNESS = { "count-in": 0.5, start: 1.0, back: 1.0, through: 1.0, rest: 0.35 };
const PEAK = 0.7;
const AHEAD_S = 0.4; // how far ahead of the clock beats are handed over
const LOOK_EVERY_MS = 60;

/** Sample of beat `k` counted from a beat on sample `origin`: nearest, from whole numbers, so nothing adds up. */
export function beatSample(k, origin, beatsPerMinute, rateHz) {
  const thousandths = Math.round(beatsPerMinute * 1000);
  return origin + Math.floor((2 * k * 60000 * rateHz + thousandths) / (2 * thousandths));
}

/** Role of beat `k`: a count-in, then strokes of three beats with rest between. */
export function roleOf(k, countInBeats, rest) {
  if (k < countInBeats) return "count-in";
  return ["start", "back", "through"][(k - countInBeats) % (3 + rest)] ?? "rest";
}

/** One tone: soft attack from its crest, exponential fall, fade; its first sample sounds. */
export function toneSamples(role, rateHz) {
  const count = Math.floor(0.06 * rateHz);
  const attack = Math.floor(0.002 * rateHz);
  const shape = Float64Array.from({ length: count }, (_, n) => Math.cos(2 * Math.PI * PITCH_HZ[role] * n / rateHz)
    * Math.sin(0.5 * Math.PI * Math.min((n + 1) / (attack + 1), 1)) ** 2
    * Math.exp(-Math.max(n - attack, 0) / (0.014 * rateHz)) * Math.cos(0.5 * Math.PI * n / count) ** 2);
  const peak = shape.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  return Float32Array.from(shape, (value) => value * PEAK * LOUDNESS[role] / peak);
}

/** Beats on an audio context, real or offline. `onBeat` hears of each beat as it is handed over. */
export class BeatPlayer {
  constructor(context, { onBeat = () => {} } = {}) {
    this.context = context;
    this.onBeat = onBeat;
    this.buffers = new Map();
    this.sources = new Set();
    this.timer = null;
    this.running = false;
  }

  start({ beatsPerMinute, countInBeats = 3, rest = 3, most = Infinity, delayS = 0.15 }) {
    this.stop();
    Object.assign(this, { beatsPerMinute, countInBeats, rest, most, running: true, next: 0, segmentBeat: 0 });
    this.origin = Math.ceil((this.context.currentTime + delayS) * this.context.sampleRate);
    this.look();
    this.timer = setInterval(() => this.look(), LOOK_EVERY_MS);
  }

  /** Beats until `endTime` are handed over. */
  look(endTime = this.context.currentTime + AHEAD_S) {
    const rate = this.context.sampleRate;
    while (this.running) {
      const sample = beatSample(this.next - this.segmentBeat, this.origin, this.beatsPerMinute, rate);
      if (sample / rate >= endTime) return;
      const role = roleOf(this.next, this.countInBeats, this.rest);
      if (sample / rate >= this.context.currentTime) this.sound(role, sample / rate);
      this.onBeat({ number: this.next, role, time_s: sample / rate, beats_per_minute: this.beatsPerMinute });
      this.next += 1;
      if (this.next >= this.most) this.finishAfter();
    }
  }

  /** Another beat from the next one on: that beat stays where it was, and the new interval counts from it. */
  change(beatsPerMinute) {
    if (this.running) {
      this.origin = beatSample(this.next - this.segmentBeat, this.origin, this.beatsPerMinute, this.context.sampleRate);
      this.segmentBeat = this.next;
    }
    this.beatsPerMinute = beatsPerMinute;
  }

  sound(role, timeS) {
    if (!this.buffers.has(role)) {
      const samples = toneSamples(role, this.context.sampleRate);
      const buffer = this.context.createBuffer(1, samples.length, this.context.sampleRate);
      buffer.copyToChannel(samples, 0);
      this.buffers.set(role, buffer);
    }
    const source = this.context.createBufferSource();
    source.buffer = this.buffers.get(role);
    source.connect(this.context.destination);
    source.onended = () => this.sources.delete(source);
    source.start(timeS);
    this.sources.add(source);
  }

  finishAfter() {
    this.running = false;
    clearInterval(this.timer);
  }

  /** Silence at once; beats that were handed over do not sound. */
  stop() {
    this.finishAfter();
    for (const source of this.sources) source.stop();
    this.sources.clear();
  }
}

/** What the device says of the way from the clock to the ear, in seconds. */
export function outputLatency(context) {
  return (context.baseLatency || 0) + (context.outputLatency || 0);
}
