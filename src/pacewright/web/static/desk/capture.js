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

  finish() {
    const type = this.recorder.mimeType.split(";")[0];
    const ending = type === "video/mp4" ? "mp4" : "webm";
    const moment = new Date().toISOString().slice(0, 19).replaceAll(":", "-");
    const name = `${say(this.withPicture ? "capture.clip" : "capture.sound")}-${moment}.${ending}`;
    this.onFile(new File(this.pieces, name, { type, lastModified: Date.now() }));
    this.recorder = null;
  }

  close() {
    this.stop();
    this.stream?.getTracks().forEach((track) => track.stop());
    this.preview.srcObject = null;
    this.stream = null;
  }
}
