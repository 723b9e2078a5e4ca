// Cards as typed, kept on this phone from the first tap until the school has them.
// A draft row: person, record, enrolment, lesson, version (that it is based on), dirty (whether
// the school lacks it), changed_at, and the words: `sealed` while the vault is open, `plain` where
// there is none or it is locked. Words: title, card, and the cards tried before it without an
// answer, the last of them last.

import * as db from "./db.js";
import * as vault from "./vault.js";

const label = (person, record) => `windtee draft ${person} ${record}`;

/** How words lie on this phone now: "sealed", "locked" (plain until unlocked) or "plain". */
export async function protection(person) {
  if (!(await vault.find(person))) return "plain";
  return (await vault.opened(person)) ? "sealed" : "locked";
}

async function covered(person, record, words) {
  const key = await vault.opened(person);
  if (!key) return { plain: words, sealed: null };
  return { plain: null, sealed: await vault.seal(key, label(person, record), words) };
}

/** Keep what was typed. `row`: person, record, enrolment, lesson, version; `words`: title, card. */
export async function keep(row, words) {
  const cover = await covered(row.person, row.record, words);
  return db.change(["drafts"], async (rows) => {
    const before = await rows.get("drafts", [row.person, row.record]);
    const version = Math.max(row.version, before?.version ?? 0);
    const changed_at = Date.now();
    const since = before?.dirty ? before.since : changed_at;
    rows.put("drafts", { ...before, ...row, ...cover, version, dirty: true, changed_at, since });
    return changed_at;
  });
}

/** The draft with its words; LockedError while they cannot be read; undefined without one. */
export async function find(person, record) {
  const row = await db.get("drafts", [person, record]);
  return row && (await read(row));
}

/** The cards in a draft's words that the school may have got without an answer having come back. */
export const triedOf = ({ tried, card }) => [tried ?? [], card].flat();

/** A draft row with its `words`; null where the school has them and they are not at hand. */
export async function read(row) {
  if (row.plain || !row.sealed) return { ...row, words: row.plain };
  const key = await vault.opened(row.person);
  if (!key && !row.dirty) return { ...row, words: null };
  return { ...row, words: await vault.unseal(key, label(row.person, row.record), row.sealed) };
}

/**
 * The school has what was typed until `changed_at`, as `version`; later words stay dirty. Words
 * that are sealed stay here too: without a network the card goes on from them.
 */
export function settle(person, record, version, changed_at) {
  return db.change(["drafts"], async (rows) => {
    const row = await rows.get("drafts", [person, record]);
    if (!row) return;
    if (row.changed_at > changed_at) rows.put("drafts", { ...row, version });
    else rows.put("drafts", { ...row, version, dirty: false, plain: null });
  });
}

/** Forget every draft of a person that the school has. */
export async function dropSettled(person) {
  const settled = (await db.all("drafts", person)).filter((row) => !row.dirty);
  await db.change(["drafts"], (rows) => {
    for (const { record } of settled) rows.drop("drafts", [person, record]);
  });
}

/** Every draft of a person that the school lacks; of everybody without `person`. */
export async function dirty(person) {
  return (await db.all("drafts", person)).filter((row) => row.dirty);
}

/** Forget a draft. */
export const forget = (person, record) => db.drop("drafts", [person, record]);

/** Seal what had to be kept in plain while the vault was locked or not there yet. */
export async function sealAll(person) {
  for (const row of await db.all("drafts", person)) {
    if (!row.plain) continue;
    const cover = await covered(person, row.record, row.plain);
    if (!cover.sealed) return;
    await db.change(["drafts"], async (rows) => {
      const now = await rows.get("drafts", [person, row.record]);
      if (now?.changed_at === row.changed_at) rows.put("drafts", { ...now, ...cover });
    });
  }
}
