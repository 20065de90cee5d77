// Outcomes by thumb or as they are called out. A putt that the server has not taken yet is kept and sent again;
// its own name makes sure that it counts once.

import { announce, call, newId, Problem, say, sleep } from "./api.js";
import { changed } from "./parts.js";
import { offerBack } from "./undo.js";
import { parseLength } from "./units.js";

const KEPT = "pacewright.putts";
const form = document.getElementById("tally");
const status = form.querySelector(".status");
const listeners = [];
let sending = false;

const waiting = () => JSON.parse(localStorage.getItem(KEPT) ?? "[]");
const keep = (putts) => localStorage.setItem(KEPT, JSON.stringify(putts));

/** Whoever wants to hear of each putt that was taken. */
export function onPutt(listener) {
  listeners.push(listener);
}

export function useSession(session) {
  form.dataset.session = session;
}

export async function add(finish) {
  const field = form.elements.asked_m;
  const asked_m = parseLength(field.value);
  field.toggleAttribute("aria-invalid", asked_m === null);
  if (asked_m === null || asked_m <= 0) {
    field.setAttribute("aria-invalid", "true");
    status.textContent = say("wrong.length");
    field.focus();
    return;
  }
  const putt = { asked_m, finish: finish.replace("−", "-"), client_id: newId() };
  keep([...waiting(), { session: form.dataset.session, putt }]);
  await send();
}

/** Send what waits, in order; goes on by itself when the server was away. */
async function send() {
  if (sending) return;
  sending = true;
  try {
    for (let [first, ...rest] = waiting(); first; [first, ...rest] = waiting()) {
      try {
        const kept = await call("POST", `/api/v1/sessions/${first.session}/putts`, first.putt);
        keep(waiting().filter((one) => one.putt.client_id !== first.putt.client_id));
        taken(first, Array.isArray(kept) ? kept[0] : kept);
      } catch (error) {
        if (error instanceof Problem && error.status < 500 && error.status !== 429) {
          keep(waiting().filter((one) => one.putt.client_id !== first.putt.client_id));
          status.textContent = error.message;
          continue;
        }
        status.textContent = say("tally.waiting", { n: rest.length + 1 });
        await sleep(1500);
      }
    }
  } finally {
    sending = false;
  }
}

function taken(sent, putt) {
  status.textContent = "";
  announce(say("tally.kept", { finish: sent.putt.finish }));
  offerBack(say("tally.kept", { finish: sent.putt.finish.replace("-", "−") }), async () => {
    await call("DELETE", `/api/v1/putts/${putt.id}`);
    changed();
    listeners.forEach((hear) => hear(sent.session, -1));
  });
  changed();
  listeners.forEach((hear) => hear(sent.session, 1));
}

form.addEventListener("click", (event) => {
  const key = event.target.closest("[data-finish]");
  if (key) add(key.dataset.finish);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const field = form.elements.finish;
  if (!field.value.trim()) return;
  add(field.value.trim());
  field.value = "";
});
send();
