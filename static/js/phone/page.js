// The page "This phone".

import * as db from "./db.js";
import * as doctor from "./doctor.js";
import * as list from "./list.js";
import * as sending from "./sending.js";
import * as unlock from "./unlock.js";
import * as waiting from "./waiting.js";

const place = (name) => document.querySelector(`[data-${name}]`);

/** Fill every section for whoever uses this phone. */
export async function fill(offline = false) {
  const person = await db.whose();
  const again = () => fill(offline);
  await unlock.ask(place("unlock"), person, again);
  await list.show(place("cards"), person, offline);
  await waiting.show(place("waiting"), person);
  await doctor.show(place("doctor"), person);
}

/** Show anew what changes when something was sent. */
export async function refresh(offline = false) {
  const person = await db.whose();
  await waiting.show(place("waiting"), person);
  await list.show(place("cards"), person, offline);
}

if (!document.querySelector("[data-shell]")) {
  // What is sent while the page fills, here or on another page, is shown after that.
  let shown = fill();
  const again = () => {
    shown = shown.then(() => refresh());
  };
  addEventListener("windtee-outbox", again);
  if (globalThis.BroadcastChannel) {
    new BroadcastChannel("windtee-outbox").addEventListener("message", again);
  }
  await shown;
  await sending.begin();
}
