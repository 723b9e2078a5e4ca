// Whether a letter has to wait for the lesson it builds on.

import * as db from "./db.js";
import * as letters from "./letters.js";

/** Whether a lesson is still to be brought to the school, or to be signed again. */
async function isOpen(person, record) {
  if ((await letters.of(person, record)).length) return true;
  const card = await db.get("cards", [person, record]);
  return Boolean(card && !card.signed);
}

/** Whether a lesson signed before it, on which it builds, has not arrived yet. */
export async function isHeld({ person, after = [] }) {
  for (const record of after) if (await isOpen(person, record)) return true;
  return false;
}
