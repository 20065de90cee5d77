// The device's own camera and microphone. What a browser records is a look, not for timing: it drops and
// invents frames; the page says so.

import { say } from "./api.js";

const CLIPS = ["video/mp4;codecs=avc1.42E01E", "video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"];
const SOUNDS = ["audio/webm;codecs=opus", "audio/webm"];

/** A recorder of camera (with sound) or microphone alone; `onFile` gets what was recorded. */
export class Recorder {
  constructor(preview, onFile) {
    Object.assign(this, { preview, onFile, stream: null, recorder: null, pieces: [] });
  }

  async open(withPicture) {
    this.withPicture = withPicture;
    this.stream = await navigator.mediaDevices.getUserMedia(withPicture
      ? { video: { facingMode: "environment", width: { ideal: 1280 }, frameRate: { ideal: 60 } }, audio: true }
      : { audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    this.preview.hidden = !withPicture;
    if (withPicture) {
      this.preview.srcObject = this.stream;
      await this.preview.play();
    }
  }

  start() {
    const type = (this.withPicture ? CLIPS : SOUNDS).find((one) => MediaRecorder.isTypeSupported(one));
    this.pieces = [];
    this.recorder = new MediaRecorder(this.stream, type ? { mimeType: type } : {});
    this.recorder.addEventListener("dataavailable", (event) => { if (event.data.size) this.pieces.push(event.data); });
    this.recorder.addEventListener("stop", () => this.finish());
    this.recorder.start(1000);
  }

  stop() {
    if (this.recorder?.state === "recording") this.recorder.stop();
  }

  async finish() {
    const made = new Blob(this.pieces, { type: this.recorder.mimeType.split(";")[0] });
    const whole = this.withPicture ? made : await asWave(made);
    const ending = { "video/mp4": "mp4", "audio/wav": "wav" }[whole.type] ?? "webm";
    const moment = new Date().toISOString().slice(0, 19).replaceAll(":", "-");
    const name = `${say(this.withPicture ? "capture.clip" : "capture.sound")}-${moment}.${ending}`;
    this.onFile(new File([whole], name, { type: whole.type, lastModified: Date.now() }));
    this.recorder = null;
  }

  close() {
    this.stop();
    this.stream?.getTracks().forEach((track) => track.stop());
    this.preview.srcObject = null;
    this.stream = null;
  }
}

/** Recorded sound as a WAV of 16 bits, which every program reads; browsers record it packed, each in its own way. */
async function asWave(blob) {
  const context = new AudioContext();
  const sound = await context.decodeAudioData(await blob.arrayBuffer());
  await context.close();
  const samples = sound.getChannelData(0);
  const bytes = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const word = (at, text) => [...text].forEach((c, k) => bytes.setUint8(at + k, c.charCodeAt(0)));
  word(0, "RIFF");
  bytes.setUint32(4, 36 + 2 * samples.length, true);
  word(8, "WAVEfmt ");
  bytes.setUint32(16, 16, true);
  bytes.setUint16(20, 1, true);
  bytes.setUint16(22, 1, true);
  bytes.setUint32(24, sound.sampleRate, true);
  bytes.setUint32(28, 2 * sound.sampleRate, true);
  bytes.setUint16(32, 2, true);
  bytes.setUint16(34, 16, true);
  word(36, "data");
  bytes.setUint32(40, 2 * samples.length, true);
  samples.forEach((value, k) => bytes.setInt16(44 + 2 * k, Math.round(Math.max(-1, Math.min(1, value)) * 32767), true));
  return new Blob([bytes], { type: "audio/wav" });
}
