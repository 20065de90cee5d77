// Results on their way to the coach: sent again until they are acknowledged; the ids make a second sending harmless.
import { Journal } from "./journal.js";

const AT_ONCE = 50;
const TIMEOUT_MS = 15000;

export const RESULTS_SCHEMA = "pacewright.practice-results/1";

export const resultsBody = (planId, items) => ({
  schema: RESULTS_SCHEMA, plan_id: planId, items: items.map(({ sent, ...item }) => item),
});

export class Outbox {
  constructor(journal, url, planId, onChange = () => {}) {
    Object.assign(this, { journal, url, planId, onChange, state: "idle", busy: null, again: false });
  }

  /** Send what is there; calls while sending make one more round. */
  send() {
    this.again = true;
    this.busy ??= this.rounds().finally(() => { this.busy = null; });
    return this.busy;
  }

  async rounds() {
    while (this.again && this.url) {
      this.again = false;
      const items = (await this.journal.unsent()).slice(0, AT_ONCE);
      if (items.length === 0) return this.be("sent");
      this.be("sending");
      try {
        const answer = await fetch(this.url, {
          method: "POST", headers: { "Content-Type": "application/json" }, credentials: "same-origin",
          body: JSON.stringify(resultsBody(this.planId, items)), signal: AbortSignal.timeout(TIMEOUT_MS),
        });
        if ([401, 403, 404, 410].includes(answer.status)) return this.be("refused");
        if (!answer.ok) return this.be("waiting");
        const { accepted } = await answer.json();
        await this.journal.markSent(accepted);
        if (accepted.length === 0) return this.be("waiting");
        this.again = true;
      } catch {
        return this.be("waiting");
      }
    }
    return this.state;
  }

  be(state) {
    this.state = state;
    this.onChange(state);
    return state;
  }
}

/** Notes of the plans that this link held before: a new plan does not strand what was practised by the old one. */
export async function sendEarlier(planId, url) {
  const key = `pacewright-practice-plans ${location.pathname}`;
  let known = [];
  try {
    known = JSON.parse(localStorage.getItem(key)) ?? [];
    localStorage.setItem(key, JSON.stringify([...new Set([...known, planId])]));
  } catch {
    return;
  }
  for (const earlier of known.filter((one) => one !== planId)) {
    const state = await new Outbox(await Journal.open(earlier), url, earlier).send();
    if (state === "sent") known = known.filter((one) => one !== earlier);
  }
  localStorage.setItem(key, JSON.stringify([...new Set([...known, planId])]));
}

/** A code to paste into a message: the results, packed. */
export async function resultsCode(planId, items) {
  const packed = new Blob([JSON.stringify(resultsBody(planId, items))]).stream().pipeThrough(new CompressionStream("gzip"));
  const bytes = new Uint8Array(await new Response(packed).arrayBuffer());
  return `PW1.${btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "")}`;
}
