// On the instructor's day: the cards of the day go along by themselves while there is a network.

import { t } from "../words.js";
import * as db from "./db.js";
import { make } from "./dom.js";
import * as list from "./list.js";
import * as pocket from "./pocket.js";
import * as unlock from "./unlock.js";
import * as vault from "./vault.js";

const FRESH = 5 * 60000;
const place = document.querySelector("[data-pocket]");

async function show() {
  const person = await db.whose();
  const line = make("div", { class: "stack" });
  const locked = make("div", {});
  if (!(await vault.find(person))) {
    if (await vault.canSign()) place.replaceChildren(make("p", { class: "small" }, make("a", { href: "/account/phones" }, t("Set this phone up to grade and sign without a network"))));
    place.hidden = !place.childElementCount;
    return;
  }
  place.replaceChildren(line, locked);
  place.hidden = false;
  await unlock.ask(locked, person, show);
  const said = await pocket.taken(person);
  const open = await vault.opened(person);
  if (open && (!said || Date.now() - said.at > FRESH)) await pocket.take(person).catch(() => {});
  line.replaceChildren(open ? await list.takeLine(person, show) : make("p", {}, list.takenWords(await pocket.taken(person))));
}

await show();
