// The page "This phone".

import * as db from "./db.js";
import * as doctor from "./doctor.js";
import * as list from "./list.js";
import * as sending from "./sending.js";
import * as unlock from "./unlock.js";
import * as waiting from "./waiting.js";
import * as witness from "./witness.js";

const place = (name) => document.querySelector(`[data-${name}]`);

/** Fill every section for whoever uses this phone. */
export async function fill(offline = false) {
  const person = await db.whose();
  const again = () => fill(offline);
  await unlock.ask(place("unlock"), person, again);
  await list.show(place("cards"), person, offline);
  await waiting.show(place("waiting"), person);
  await doctor.show(place("doctor"), person);
  await witness.show(place("witness"));
}

/** Show anew what changes when something was sent. */
export async function refresh(offline = false) {
  const person = await db.whose();
  await waiting.show(place("waiting"), person);
  await list.show(place("cards"), person, offline);
}

if (!document.querySelector("[data-shell]")) {
  await fill();
  addEventListener("windtee-outbox", () => refresh());
  if (document.body.dataset.person) await witness.begin();
  await witness.show(place("witness"));
  await sending.begin();
}
