// What was done, kept at once: every tap is in the database before the next screen is shown.

/** A database of these stores, by the name of the key of each (null: the key is given apart). */
export const openDatabase = (name, stores) => new Promise((resolve, reject) => {
  const request = indexedDB.open(name, 1);
  request.onupgradeneeded = () => {
    for (const [store, keyPath] of Object.entries(stores)) request.result.createObjectStore(store, keyPath ? { keyPath } : {});
  };
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

export const newId = () => (crypto.randomUUID ? crypto.randomUUID()
  : [...crypto.getRandomValues(new Uint8Array(16))].map((byte, k) => ([4, 6, 8, 10].includes(k) ? "-" : "") + byte.toString(16).padStart(2, "0")).join(""));

export class Journal {
  static async open(planId) {
    const journal = new Journal();
    journal.database = await openDatabase(`pacewright-practice-${planId}`, { items: "id", state: null });
    navigator.storage?.persist?.();
    return journal;
  }

  /** Write items and the place in the drill in one transaction, and wait until they are on the disk. */
  write(items, state) {
    return new Promise((resolve, reject) => {
      const transaction = this.database.transaction(["items", "state"], "readwrite", { durability: "strict" });
      for (const item of items) transaction.objectStore("items").put(item);
      if (state !== undefined) transaction.objectStore("state").put(state, "now");
      transaction.oncomplete = () => resolve();
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }

  ask(store, call) {
    return new Promise((resolve, reject) => {
      const request = call(this.database.transaction(store).objectStore(store));
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  }

  state() {
    return this.ask("state", (store) => store.get("now"));
  }

  async items() {
    const all = await this.ask("items", (store) => store.getAll());
    return all.sort((a, b) => (a.at < b.at ? -1 : 1));
  }

  /** Putts that were not taken back. */
  async putts() {
    const items = await this.items();
    const undone = new Set(items.filter((item) => item.kind === "undo").map((item) => item.of));
    return items.filter((item) => item.kind === "putt" && !undone.has(item.id));
  }

  async unsent() {
    return (await this.items()).filter((item) => !item.sent);
  }

  /** Items that the coach's desk has. */
  async markSent(ids) {
    const known = new Set(ids);
    await this.write((await this.items()).filter((item) => known.has(item.id)).map((item) => ({ ...item, sent: true })));
  }
}

/** Where the browser keeps nothing: for this visit only, and the page says so. */
export function memoryJournal() {
  const journal = new Journal();
  let all = [];
  journal.write = async (items) => { const ids = new Set(items.map((item) => item.id)); all = [...all.filter((item) => !ids.has(item.id)), ...items]; };
  journal.items = async () => all;
  return journal;
}
