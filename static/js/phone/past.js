// What lessons signed on this phone make of the next card of the same student, before the school
// has told: the pocket's card is older than they are.

import { foreseen } from "../rules/foreseen.js";
import * as db from "./db.js";
import * as letters from "./letters.js";
import * as pocket from "./pocket.js";

const bodyOf = (words) => JSON.parse(JSON.parse(words.body).signed.text).body;

/** Bodies signed here for a student: those under way, and those the pocket has not heard of. */
async function signedFor(person, cards) {
  const enrolments = new Set(cards.map((card) => card.enrolment));
  const found = [];
  for (const letter of await letters.all(person)) {
    if (!letter.signed) continue;
    const { made_at, words } = await letters.read(letter);
    found.push({ made_at, body: bodyOf(words) });
  }
  for (const card of cards.filter((one) => one.signed)) {
    const { made_at, words } = await letters.read(card.signed);
    found.push({ made_at, body: bodyOf(words) });
  }
  return found
    .filter(({ body }) => enrolments.has(body.enrolment))
    .sort((one, other) => one.made_at - other.made_at)
    .map(({ body }) => body);
}

/**
 * A card of the pocket as the school will have it once what was signed before it has arrived:
 * with `after`, the records it builds on, and `others`, the cards whose tasks it may need.
 */
export async function caughtUp(person, card) {
  if (!card?.past || card.signed) return card;
  const cards = (await Promise.all((await db.all("cards", person)).map(pocket.read)))
    .filter((one) => one.enrolment === card.enrolment);
  const bodies = (await signedFor(person, cards)).filter((body) => body.record !== card.record);
  const known = new Set(card.past.history.map((fact) => fact.record));
  const after = bodies.map((body) => body.record).filter((record) => !known.has(record));
  if (!after.length) return card;
  const others = cards.filter((one) => one.record !== card.record);
  return { ...foreseen(card, bodies, others.map((one) => one.setting)), after, others };
}
