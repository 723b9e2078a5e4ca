// The letters of the outbox. A letter is one card on its way to the school: its body never
// changes once made, so that every try sends the same bytes under the same key.
// A letter row: key, person, record, made_at, signed, state, base (the version it is based on;
// null while a letter before it is under way), tries, next_at, title and body (sealed or plain),
// and what the school answered when it was not taken.
// States: waiting, conflict, changed, quarantined, refused.

import * as db from "./db.js";
import * as vault from "./vault.js";

const label = (key) => `windtee letter ${key}`;

/** A random name in the form of a UUID (version 4), also where `randomUUID` is not lent. */
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return vault.toHex(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

async function covered(person, key, words) {
  const opened = await vault.opened(person);
  if (!opened) {
    if (await vault.find(person)) throw new vault.LockedError("Type your secret first.");
    return { plain: words, sealed: null };
  }
  return { plain: null, sealed: await vault.seal(opened, label(key), words) };
}

/** The bytes of a letter, made once. */
export function bodyOf({ enrolment, lesson, card, signed = null }, made_at) {
  const client_time = new Date(made_at).toISOString();
  return JSON.stringify({ enrolment, lesson, card, client_time, signed });
}

/**
 * Make a letter of a draft: in one step it lies in the outbox with its key and the draft is
 * settled. `words`: title, card; `signed`: text, sig and kid, or null for a draft; `after`: the
 * records signed here on which the signature builds, so that it is sent after them.
 */
export async function post(draft, words, signed = null, after = []) {
  const key = newKey();
  // A draft's words are as old as their last change; a signature is made now.
  const made_at = signed ? Date.now() : (draft.changed_at ?? Date.now());
  const { person, record, enrolment, lesson } = draft;
  const body = bodyOf({ enrolment, lesson, card: words.card, signed }, made_at);
  const { title, tried = [] } = words;
  const cover = await covered(person, key, { title, body, tried });
  const letter = {
    key, person, record, made_at, since: draft.since ?? made_at, signed: Boolean(signed),
    state: "waiting", base: draft.version, tries: 0, next_at: 0, after, ...cover,
  };
  const before = await of(person, record);
  // A draft's letter that was never sent says nothing that this one does not say.
  const spare = before.filter((one) => !one.signed && !one.tries && one.state === "waiting");
  if (before.length > spare.length) letter.base = null;
  else if (spare.length) Object.assign(letter, { base: spare[0].base, since: spare[0].since });
  await db.change(["letters", "drafts"], async (rows) => {
    const row = await rows.get("drafts", [person, record]);
    for (const one of spare) rows.drop("letters", one.key);
    rows.put("letters", letter);
    const typedSince = row && row.changed_at > (draft.changed_at ?? made_at);
    if (row && !typedSince) {
      rows.put("drafts", { ...row, dirty: false, plain: null });
    }
  });
  return letter;
}

/** A letter with its `words`: title and body; LockedError. */
export async function read(letter) {
  if (letter.plain) return { ...letter, words: letter.plain };
  const key = await vault.opened(letter.person);
  return { ...letter, words: await vault.unseal(key, label(letter.key), letter.sealed) };
}

const inOrder = (one, other) => one.made_at - other.made_at || (one.key < other.key ? -1 : 1);

const isLater = ({ base }) => Number(base === null);

/** Every letter, oldest first; with `person`, that person's alone. */
export const all = async (person) => (await db.all("letters", person)).sort(inOrder);

/** The letters about one record, oldest first: whichever waits for another was made after it. */
export const of = async (person, record) =>
  (await all(person)).filter((letter) => letter.record === record).sort((one, other) => isLater(one) - isLater(other));

/** Write changes into a letter that is still there. */
export function note(key, changes) {
  return db.change(["letters"], async (rows) => {
    const row = await rows.get("letters", key);
    if (row) rows.put("letters", { ...row, ...changes });
  });
}

/** Keep what the school answered, sealed like the letter itself. */
export async function refuse(letter, state, answer) {
  const opened = await vault.opened(letter.person);
  const sealed = opened && (await vault.seal(opened, `${label(letter.key)} answer`, answer));
  await note(letter.key, { state, answer: sealed ? null : answer, sealedAnswer: sealed });
}

/** What the school answered to a letter it did not take. */
export async function answerTo(letter) {
  if (!letter.sealedAnswer) return letter.answer ?? {};
  const opened = await vault.opened(letter.person);
  return vault.unseal(opened, `${label(letter.key)} answer`, letter.sealedAnswer);
}

/** What stays of a signed letter until the pocket is filled anew: later cards build on it. */
const letterOf = ({ key, person, record, made_at, sealed, plain }) =>
  ({ key, person, record, made_at, sealed, plain });

/** The school has it: the letter goes, its receipt stays, later letters follow its version. */
export async function deliver(letter, { version, receipt, saved, state }) {
  const { key, person, record } = letter;
  const later = (await of(person, record)).filter((one) => one.key !== key);
  await db.change(["letters", "drafts", "cards", "receipts"], async (rows) => {
    rows.drop("letters", key);
    const card = state === "signed" && (await rows.get("cards", [person, record]));
    if (card) rows.put("cards", { ...card, signed: letterOf(letter) });
    for (const one of later) {
      const row = await rows.get("letters", one.key);
      if (row && row.base === null) rows.put("letters", { ...row, base: version });
    }
    const draft = await rows.get("drafts", [person, record]);
    if (draft && state === "signed" && !draft.dirty) rows.drop("drafts", [person, record]);
    else if (draft) rows.put("drafts", { ...draft, version });
    rows.put("receipts", { person, record, version, state, saved, receipt, at: Date.now() });
  });
}

/** Take a letter back: its card becomes a draft again, to be read, changed and signed anew. */
export async function takeBack(letter, base = letter.base ?? 0) {
  const { words, person, record, since } = await read(letter);
  const { enrolment, lesson, card } = JSON.parse(words.body);
  const opened = await vault.opened(person);
  const kept = { title: words.title, card };
  const sealed = opened && (await vault.seal(opened, `windtee draft ${person} ${record}`, kept));
  const changed_at = Date.now();
  const later = (await of(person, record)).filter((one) => one.key !== letter.key);
  await db.change(["letters", "drafts"], (rows) => {
    rows.drop("letters", letter.key);
    for (const one of later) rows.put("letters", { ...one, base: one.base ?? base });
    rows.put("drafts", {
      person, record, enrolment, lesson, version: base, dirty: true, since, changed_at,
      plain: sealed ? null : kept, sealed,
    });
  });
}

/** Drop a letter for good, at its author's word; the draft it came from goes with it. */
export async function forget({ key, person, record, base }) {
  const later = (await of(person, record)).filter((one) => one.key !== key);
  await db.change(["letters", "drafts"], async (rows) => {
    rows.drop("letters", key);
    for (const one of later) rows.put("letters", { ...one, base: one.base ?? base });
    const draft = await rows.get("drafts", [person, record]);
    if (draft && !draft.dirty) rows.drop("drafts", [person, record]);
  });
}
