// Files in pieces. A piece counts once the server says that it is safe; whatever happens to the page or the server,
// the upload goes on from there: by itself when the server comes back, by choosing the file again when the page died.

import { call, Problem, say, sleep } from "./api.js";
import { changed } from "./parts.js";

const PIECE = 4 << 20;
const AT_ONCE = 2;
const KEPT = "pacewright.uploads";

const kept = () => JSON.parse(localStorage.getItem(KEPT) ?? "{}");
const key = (session, file) => [session, file.name, file.size, file.lastModified].join("|");

function remember(name, id) {
  const all = kept();
  if (id === null) delete all[name];
  else all[name] = id;
  localStorage.setItem(KEPT, JSON.stringify(all));
}

/** Ask until the server answers; a refusal is thrown at once. */
async function patiently(ask, told) {
  for (let wait = 500; ; wait = Math.min(wait * 1.6, 5000)) {
    try {
      const found = await ask();
      told("");
      return found;
    } catch (error) {
      if (error instanceof Problem && error.status < 500 && error.status !== 429) throw error;
      if (error.name === "AbortError") throw error;
      told(say("upload.waiting"));
      await sleep(wait);
    }
  }
}

/** Send one file whole; `progress(share, text)` hears how far it is. Returns the recording. */
export async function sendFile(session, file, { asked_m = null, progress = () => {}, signal } = {}) {
  const name = key(session, file);
  let share = 0;
  const told = (text) => progress(share, text);
  const opened = { name: file.name, size: file.size, ...(asked_m ? { asked_m } : {}) };
  let upload = null;
  const before = kept()[name];
  if (before) {
    try {
      upload = await patiently(() => call("GET", `/api/v1/uploads/${before}`, null, { signal }), told);
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
    }
  }
  upload ??= await patiently(() => call("POST", `/api/v1/sessions/${session}/uploads`, opened, { signal }), told);
  remember(name, upload.id);
  while (upload.received < upload.size) {
    const piece = await file.slice(upload.received, upload.received + PIECE).arrayBuffer();
    try {
      upload = await patiently(() => call("PATCH", `/api/v1/uploads/${upload.id}`, piece, { signal, headers: { "Upload-Offset": upload.received } }), told);
    } catch (error) {
      // The piece was taken although its answer was lost: ask how far the server has come.
      if (!(error instanceof Problem && error.status === 409)) throw error;
      upload = await patiently(() => call("GET", `/api/v1/uploads/${upload.id}`, null, { signal }), told);
    }
    share = upload.received / upload.size;
    told("");
  }
  const recording = await patiently(() => call("POST", `/api/v1/uploads/${upload.id}/finish`), told);
  remember(name, null);
  return recording;
}

/** A list of files on their way, some at once. */
export class Uploads {
  constructor(list, session, askedLength) {
    Object.assign(this, { list, session, askedLength, queue: [], running: 0 });
  }

  add(files) {
    for (const file of files) this.queue.push({ file, asked_m: this.askedLength(), line: this.line(file) });
    this.run();
  }

  line(file) {
    const line = document.createElement("li");
    line.className = "line";
    const name = document.createElement("b");
    name.textContent = file.name;
    const meter = document.createElement("progress");
    meter.className = "meter";
    meter.max = 1;
    meter.value = 0;
    meter.setAttribute("aria-label", file.name);
    const text = document.createElement("span");
    text.setAttribute("role", "status");
    const end = document.createElement("button");
    end.type = "button";
    end.className = "plain";
    end.textContent = say("upload.cancel");
    const stop = new AbortController();
    end.addEventListener("click", () => { stop.abort(); line.remove(); });
    line.append(name, meter, text, end);
    this.list.append(line);
    return { line, meter, text, stop };
  }

  run() {
    while (this.running < AT_ONCE && this.queue.length) {
      this.running += 1;
      this.one(this.queue.shift()).finally(() => { this.running -= 1; this.run(); });
    }
  }

  async one({ file, asked_m, line: { line, meter, text, stop } }) {
    try {
      await sendFile(this.session, file, {
        asked_m, signal: stop.signal, progress: (share, told) => { meter.value = share; text.textContent = told; },
      });
      line.remove();
      changed();
    } catch (error) {
      if (error.name !== "AbortError") text.textContent = error.message;
    }
  }
}
