// A session in progress: outcomes, files, camera.

import { say } from "./api.js";
import { Recorder } from "./capture.js";
import { parseLength } from "./units.js";
import { Uploads } from "./upload.js";
import "./tally.js";

const byId = (id) => document.getElementById(id);
const drop = byId("drop");
const asked = drop.querySelector("[name=recorded_m]");
const uploads = new Uploads(byId("uploads"), drop.dataset.session, () => parseLength(asked.value));

byId("files").addEventListener("change", (event) => { uploads.add([...event.target.files]); event.target.value = ""; });
for (const name of ["dragover", "dragenter"]) {
  drop.addEventListener(name, (event) => { event.preventDefault(); drop.classList.add("over"); });
}
for (const name of ["dragleave", "drop"]) drop.addEventListener(name, () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => { event.preventDefault(); uploads.add([...event.dataTransfer.files]); });
// A file that misses the field does not take the page away.
addEventListener("dragover", (event) => event.preventDefault());
addEventListener("drop", (event) => event.preventDefault());

const status = byId("camera-status");
const start = byId("camera-go");
const recorder = new Recorder(byId("preview"), (file) => uploads.add([file]));

async function open(withPicture) {
  byId("camera").hidden = false;
  status.textContent = "";
  start.disabled = true;
  try {
    await recorder.open(withPicture);
    start.disabled = false;
    start.focus();
  } catch {
    status.textContent = say(withPicture ? "capture.no_camera" : "capture.no_sound");
  }
}

function pressed(is) {
  start.setAttribute("aria-pressed", String(is));
  start.textContent = say(is ? "capture.stop" : "capture.start");
}

byId("camera-open").addEventListener("click", () => open(true));
byId("sound-open").addEventListener("click", () => open(false));
start.addEventListener("click", () => {
  const goes = start.getAttribute("aria-pressed") === "true";
  if (goes) recorder.stop();
  else recorder.start();
  pressed(!goes);
  status.textContent = say(goes ? "capture.done" : "capture.running");
});
byId("camera-close").addEventListener("click", () => {
  recorder.close();
  pressed(false);
  byId("camera").hidden = true;
  byId("camera-open").focus();
});
