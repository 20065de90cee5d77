// Listening: the microphone as it is, contacts from the worklet, and the latency taken out.
import { PITCH_HZ, TONES } from "./beat.js";

export { ClickDetector } from "./clicks.js";

const LEAST_CONTRAST = 200;
const LEAST_BEATS = 3;
const MOST_SPREAD_S = 0.003;
const LEAST_CLAPS = 8;

export const MICROPHONE = { audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } };

/** Middle and its standard uncertainty (1.25·sd/√n, the sd by the median absolute deviation). */
export function middleOf(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const mid = (list) => (list.length % 2 ? list[list.length >> 1] : (list[list.length / 2 - 1] + list[list.length / 2]) / 2);
  if (sorted.length === 0) return null;
  const value = mid(sorted);
  const spread = 1.4826 * mid(sorted.map((one) => Math.abs(one - value)).sort((a, b) => a - b));
  return { value, spread, sd: sorted.length > 1 ? 1.25 * spread / Math.sqrt(sorted.length) : NaN, count: sorted.length };
}

/** How late a contact is; `beat` is the back beat, and `share` of an interval later the ball is to be met. */
export function beatError(contactS, backS, intervalS, share, latencyS) {
  return contactS - latencyS - backS - share * intervalS;
}

/** The clap nearest to each beat, as delays; a clap farther than a third of the interval belongs to none. */
export function clapDelays(claps, beats, intervalS) {
  return beats.flatMap((beat) => {
    const delays = claps.map((clap) => clap - beat).filter((delay) => delay > -intervalS / 3 && delay < intervalS * 2 / 3);
    return delays.length ? [delays.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a))] : [];
  });
}

export class Listener {
  constructor(context, workletUrl) {
    this.context = context;
    this.workletUrl = workletUrl;
    this.onClick = () => {};
    this.returned = []; // delays of our own beats, heard by the microphone
    this.claps = null; // {value, spread, sd, count} of a calibration
    this.gaps = 0;
    this.pending = [];
  }

  async open({ remembers = true } = {}) {
    if (!navigator.mediaDevices?.getUserMedia) throw new Error("no-microphone");
    this.stream = await navigator.mediaDevices.getUserMedia(MICROPHONE);
    await this.context.audioWorklet.addModule(this.workletUrl);
    this.node = new AudioWorkletNode(this.context, "practice-listener", { numberOfOutputs: 0 });
    this.node.port.onmessage = ({ data }) => this.hear(data);
    this.node.port.postMessage({ remembers });
    this.context.createMediaStreamSource(this.stream).connect(this.node);
  }

  hear({ click, heardBeat, gap }) {
    if (click) this.onClick(click);
    if (gap) this.gaps += 1;
    if (heardBeat && heardBeat.contrast > LEAST_CONTRAST) this.returned = [...this.returned, heardBeat.delay_s].slice(-7);
  }

  mode({ remembers }) {
    this.node?.port.postMessage({ remembers });
  }

  /** A beat was handed to the loudspeaker: it is no contact when it comes back. */
  announce(beat) {
    if (!this.node) return;
    this.node.port.postMessage({ watch: { time_s: beat.time_s, pitch_hz: PITCH_HZ[beat.role] } });
    const delay = this.delay();
    if (delay) this.node.port.postMessage({ beats: [{ time_s: beat.time_s + delay.value, tone: TONES.indexOf(beat.role) }] });
  }

  /** Delay from the clock of the beat to the microphone, by our own beats; null while it is not known. */
  delay() {
    const middle = middleOf(this.returned);
    return middle && middle.count >= LEAST_BEATS && middle.spread <= MOST_SPREAD_S ? middle : null;
  }

  /** What is taken off a contact's time: the way of our own beats, or, with earphones, the claps. */
  latency() {
    const delay = this.delay();
    if (delay) return { ...delay, by: "beats" };
    return this.claps && this.claps.count >= LEAST_CLAPS ? { ...this.claps, by: "claps" } : null;
  }

  close() {
    this.stream?.getTracks().forEach((track) => track.stop());
    this.node?.disconnect();
    this.node = null;
  }
}
