// The database on this phone. What was written is on the disk when a promise here resolves.

const NAME = "windtee";
const VERSION = 1;
const STORES = {
  vaults: ["person"],
  open: ["person"],
  cards: [["person", "record"], "person", "record"],
  drafts: [["person", "record"], "person", "record"],
  letters: ["key", "person"],
  receipts: [["person", "record"], "person"],
  facts: ["name"],
};

/** There is no room left on this phone: nothing of the change was written. */
export class FullError extends Error {}

let opening = null;

function build({ target: { result: db } }) {
  for (const [name, [keyPath, ...indexes]] of Object.entries(STORES)) {
    if (db.objectStoreNames.contains(name)) continue;
    const store = db.createObjectStore(name, { keyPath });
    for (const index of indexes) store.createIndex(index, index);
  }
}

function open() {
  opening ??= new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = build;
    asked.onerror = () => fail(asked.error);
    asked.onsuccess = () => {
      const forget = () => (opening = null);
      asked.result.onversionchange = () => asked.result.close() ?? forget();
      asked.result.onclose = forget;
      done(asked.result);
    };
  }).catch((error) => {
    opening = null;
    throw error;
  });
  return opening;
}

const answerOf = (asked) =>
  new Promise((done, fail) => {
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });

const told = (error) =>
  error?.name === "QuotaExceededError" ? new FullError("This phone has no room left.") : error;

/** The row with this key, or undefined. */
export async function get(store, key) {
  const db = await open();
  return answerOf(db.transaction(store).objectStore(store).get(key));
}

/** Every row of a store; with `person`, that person's alone. */
export async function all(store, person) {
  const db = await open();
  const rows = db.transaction(store).objectStore(store);
  return answerOf(person === undefined ? rows.getAll() : rows.index("person").getAll(person));
}

/** All that waits here for the school: letters, and drafts with words that it does not have. */
export async function waiting() {
  const drafts = (await all("drafts")).filter((row) => row.dirty);
  return [...(await all("letters")), ...drafts];
}

/**
 * All of a change or nothing of it. `act` gets `get`, `put` and `drop` and may wait for these
 * alone; the promise resolves once everything is on the disk. FullError when it has no room.
 */
export async function change(stores, act) {
  const db = await open();
  const work = db.transaction(stores, "readwrite", { durability: "strict" });
  const written = new Promise((done, fail) => {
    work.oncomplete = done;
    work.onabort = () => fail(told(work.error) ?? new Error("not written"));
  });
  const rows = (store) => work.objectStore(store);
  try {
    const found = await act({
      get: (store, key) => answerOf(rows(store).get(key)),
      put: (store, row) => rows(store).put(row),
      drop: (store, key) => rows(store).delete(key),
    });
    await written;
    return found;
  } catch (error) {
    written.catch(() => {});
    try {
      work.abort();
    } catch {
      // it has ended already
    }
    throw told(error);
  }
}

/** Write one row. */
export const put = (store, row) => change([store], (rows) => void rows.put(store, row));

/** Remove one row. */
export const drop = (store, key) => change([store], (rows) => void rows.drop(store, key));

/** Who uses this phone: whoever is signed in on this page, else whoever was last. */
export async function whose() {
  return document.body.dataset.person || (await get("facts", "person"))?.id || "";
}
