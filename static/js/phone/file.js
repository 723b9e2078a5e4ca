// The outbox as a file: for when a phone is about to be lost, or cannot reach the school.

import { t } from "../words.js";
import * as db from "./db.js";
import { make } from "./dom.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { announce } from "./outbox.js";
import * as vault from "./vault.js";

const FORMAT = "windtee-outbox/1";
const HEX = /^[0-9a-f]{32}$/;
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

function plain({ key, record, made_at, since, signed, state, base, words }) {
  return { key, record, made_at, since, signed, state, base, title: words.title, body: words.body };
}

/** The file's text: every letter, and every draft as the letter it would become. LockedError. */
export async function fileOf(person) {
  const waiting = await Promise.all((await letters.all(person)).map(letters.read));
  const typed = await Promise.all((await drafts.dirty(person)).map(drafts.read));
  const made = typed.map((draft) => ({
    key: letters.newKey(),
    record: draft.record,
    made_at: draft.changed_at,
    since: draft.since,
    signed: false,
    state: "waiting",
    base: draft.version,
    title: draft.words.title,
    body: letters.bodyOf({ ...draft, card: draft.words.card }, draft.changed_at),
  }));
  const told = { format: FORMAT, person, saved_at: Date.now(), letters: [...waiting.map(plain), ...made] };
  return `${JSON.stringify(told, null, 1)}\n`;
}

/** Hand the file to the browser's downloads. */
export async function saveFile(person) {
  const text = await fileOf(person);
  const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const name = `windtee-outbox-${new Date().toISOString().slice(0, 10)}.json`;
  const link = make("a", { href: address, download: name, hidden: true });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(URL.revokeObjectURL, 60000, address);
}

const isLetter = (one) =>
  one !== null && typeof one === "object" && UUID.test(one.key) && HEX.test(one.record) &&
  typeof one.body === "string" && typeof one.title === "string" && Number.isSafeInteger(one.made_at);

async function known(person) {
  const rows = await letters.all();
  return new Set(rows.filter((row) => row.person === person).map((row) => row.key));
}

async function row(person, one) {
  const words = { title: one.title, body: one.body, tried: [] };
  const opened = await vault.opened(person);
  const sealed = opened && (await vault.seal(opened, `windtee letter ${one.key}`, words));
  return {
    key: one.key, person, record: one.record, made_at: one.made_at, since: one.since ?? one.made_at,
    signed: one.signed === true, state: "waiting", tries: 0, next_at: 0,
    base: Number.isSafeInteger(one.base) ? one.base : 0, plain: sealed ? null : words, sealed,
  };
}

/** Bring a file in: how many letters were new (n) and how many known. Errors say what is wrong. */
export async function takeFile(person, file) {
  const text = await file.text();
  let told = null;
  try {
    told = JSON.parse(text);
  } catch {
    throw new Error(t("This is not a file of an outbox."));
  }
  if (told?.format !== FORMAT || !Array.isArray(told.letters) || !told.letters.every(isLetter)) {
    throw new Error(t("This is not a file of an outbox."));
  }
  if (told.person !== person) throw new Error(t("This file is somebody else's: its author has to bring it in."));
  const before = await known(person);
  const fresh = told.letters.filter((one) => !before.has(one.key));
  const rows = await Promise.all(fresh.map((one) => row(person, one)));
  await db.change(["letters"], (work) => {
    for (const one of rows) work.put("letters", one);
  });
  announce();
  return { n: rows.length, known: told.letters.length - rows.length };
}
