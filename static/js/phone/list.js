// The cards on this phone: whose, which lesson, how far, how old.

import { t } from "../words.js";
import * as db from "./db.js";
import { button, make } from "./dom.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import * as pocket from "./pocket.js";
import { age, clock, worry } from "./times.js";
import * as vault from "./vault.js";

const gradedOf = (card) => (card?.entries ?? []).filter((one) => one.level).length;

/** What is true of a card in words: on this phone only, waiting, or as the school has it. */
async function state(person, record, card) {
  const waiting = await letters.of(person, record);
  if (waiting.some((one) => one.state !== "waiting")) return t("not taken by the school: decide below");
  if (waiting.some((one) => one.signed)) return t("signed, on this phone only");
  const draft = await db.get("drafts", [person, record]);
  if (waiting.length || draft?.dirty) {
    const words = draft?.dirty ? (await drafts.read(draft)).words : null;
    const n = gradedOf(words?.card ?? card);
    return t("{n} graded, on this phone only since {time}", { n, time: clock(draft?.changed_at ?? waiting[0].made_at) });
  }
  return gradedOf(card) ? t("{n} graded", { n: gradedOf(card) }) : t("not begun");
}

async function item(person, card) {
  const code = card.setting.lesson.code.toUpperCase();
  return make("li", { class: "row" },
    make("div", {},
      make("h3", {}, make("a", { href: `/lessons/${card.record}` }, card.student.name)),
      make("p", {}, card.title),
      make("p", { class: "small dim" }, await state(person, card.record, card.card))),
    make("a", { class: "button button-signal", href: `/lessons/${card.record}` }, t("Grade {code}", { code })));
}

/** "6 cards on this phone, 17:02, 3 min old": what was taken along and when. */
export function takenWords(said) {
  if (!said) return t("No cards are on this phone yet.");
  const words = { n: said.count, time: clock(said.at, said.school?.zone), age: age(said.at) };
  return said.count === 1 ? t("1 card on this phone, {time}, {age}", words) : t("{n} cards on this phone, {time}, {age}", words);
}

/** The line about the pocket, with the button to take cards along now. */
export async function takeLine(person, after, offline = false) {
  const said = await pocket.taken(person);
  const line = make("p", { role: "status", class: said && worry(said.at) !== "fresh" ? "verdict verdict-missing" : null }, takenWords(said));
  const problem = make("p", { class: "field-error", role: "alert", hidden: true });
  const take = button(t("Take cards along now"), async () => {
    try {
      await pocket.take(person);
      await after();
    } catch (error) {
      problem.textContent = error instanceof TypeError ? t("No network: the cards stay as they are.") : error.message;
      problem.hidden = false;
    }
  });
  return make("div", { class: "stack" }, make("div", { class: "row" }, line, offline ? null : take), problem);
}

/** Fill `place` with the list; nothing while the vault is locked or not there. */
export async function show(place, person, offline = false) {
  const again = () => show(place, person, offline);
  place.hidden = true;
  if (!person || !(await vault.find(person)) || !(await vault.opened(person))) return;
  const cards = await pocket.all(person);
  const listed = await Promise.all(cards.map((card) => item(person, card)));
  place.replaceChildren(
    make("h2", {}, t("Cards on this phone")),
    await takeLine(person, again, offline),
    listed.length
      ? make("ul", { class: "ruled" }, listed)
      : make("p", { class: "dim" }, offline
        ? t("None was taken along. With a network, open Today and take the cards along.")
        : t("Take the cards of your students along, and they open without a network.")),
  );
  place.hidden = false;
}
