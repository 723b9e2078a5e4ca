// The pocket: cards taken along while there is a network, sealed, with the time they are of.

import * as db from "./db.js";
import { locked } from "./pages.js";
import * as vault from "./vault.js";

const label = (person, record) => `windtee card ${person} ${record}`;
const fact = (person) => `pocket ${person}`;

/** What is known of the last taking along: at, count (now), school; undefined before one. */
export async function taken(person) {
  const said = await db.get("facts", fact(person));
  return said && { ...said, count: (await db.all("cards", person)).filter((row) => !row.signed).length };
}

async function fetched() {
  const answer = await fetch("/api/pocket", {
    headers: { Accept: "application/json" },
    cache: "no-store",
  });
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) throw Object.assign(new Error(told.error ?? "Not taken along."), { answer });
  return told;
}

async function sealed(key, person, card, pocket) {
  const { record, enrolment, version } = card;
  const kept = await vault.seal(key, label(person, record), { ...card, school: pocket.school });
  return { person, record, enrolment, version, at: Date.now(), made_at: pocket.made_at, sealed: kept };
}

/** A blank card keeps the id under which this phone knows it, so that its draft finds it again. */
async function sameIds(cards, person) {
  const known = await Promise.all((await db.all("cards", person)).map(read));
  const drafts = new Set((await db.all("drafts", person)).map((row) => row.record));
  const letters = new Set((await db.all("letters", person)).map((row) => row.record));
  const busy = known.filter((one) => drafts.has(one.record) || letters.has(one.record));
  const found = new Map();
  const place = (card) => `${card.enrolment} ${card.setting.lesson.code}`;
  for (const one of busy) if (one.version === 0) found.set(place(one), one);
  return {
    cards: cards.map((card) => {
      const mine = card.version === 0 && found.get(place(card));
      if (!mine) return card;
      return JSON.parse(JSON.stringify(card).replaceAll(card.record, mine.record));
    }),
    busy: busy.map((one) => one.record),
  };
}

const MONTH = 30 * 24 * 3600000;
const isOver = (draft) => !draft.dirty && draft.changed_at < Date.now() - MONTH;

/** Take the cards along now; LockedError, or an error with its words. */
export function take(person) {
  return locked("windtee-pocket", async () => {
    const key = await vault.opened(person);
    if (!key) throw new vault.LockedError("Type your secret to take cards along.");
    const pocket = await fetched();
    if (pocket.person.id !== person) throw new Error("Somebody else is signed in.");
    const { cards, busy } = await sameIds(pocket.cards, person);
    const rows = await Promise.all(cards.map((card) => sealed(key, person, card, pocket)));
    const old = (await db.all("cards", person)).map((row) => row.record);
    const kept = new Set([...cards.map((card) => card.record), ...busy]);
    const said = { name: fact(person), at: Date.now(), school: pocket.school, who: pocket.person };
    const settled = (await db.all("drafts", person)).filter(isOver);
    await db.change(["cards", "facts", "drafts"], (work) => {
      for (const row of settled) work.drop("drafts", [person, row.record]);
      for (const record of old) if (!kept.has(record)) work.drop("cards", [person, record]);
      for (const row of rows) work.put("cards", row);
      work.put("facts", said);
    });
    const mine = await vault.find(person);
    if (mine) await vault.mark(person, !pocket.phones.includes(mine.kid));
  });
}

/** A card of the pocket, read; LockedError. */
export async function read(row) {
  const key = await vault.opened(row.person);
  return { ...row, ...(await vault.unseal(key, label(row.person, row.record), row.sealed)) };
}

/** One card of the pocket, or undefined; LockedError. */
export async function find(person, record) {
  const row = await db.get("cards", [person, record]);
  return row && read(row);
}

/** Every card of the pocket that is not signed, by student; LockedError. */
export async function all(person) {
  const open = (await db.all("cards", person)).filter((row) => !row.signed);
  const cards = await Promise.all(open.map(read));
  return cards.sort((one, other) => one.student.name.localeCompare(other.student.name));
}

/** Leave nothing of a person's pocket on this phone. */
export async function empty(person) {
  const rows = await db.all("cards", person);
  await db.change(["cards", "facts"], (work) => {
    for (const row of rows) work.drop("cards", [person, row.record]);
    work.drop("facts", fact(person));
  });
}
