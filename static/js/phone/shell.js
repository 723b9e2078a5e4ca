// The page that stands in when no network answers: by its address a card, its review, or the list
// of what is on this phone.

import { t } from "../words.js";
import * as carding from "./carding.js";
import * as db from "./db.js";
import { make } from "./dom.js";
import * as drafts from "./drafts.js";
import { fill, refresh } from "./page.js";
import * as letters from "./letters.js";
import { caughtUp } from "./past.js";
import * as pocket from "./pocket.js";
import * as reviewing from "./reviewing.js";
import * as sending from "./sending.js";
import { age, clock, worry } from "./times.js";
import * as unlock from "./unlock.js";
import * as vault from "./vault.js";

const shell = document.querySelector("[data-shell]");
const main = document.querySelector("main");
const forms = new Map();

/** Why this page stands in: a phone without a network, or a school that says nothing. */
const silence = () => (navigator.onLine ? t("The school does not answer") : t("No network"));

function light() {
  const [, theme] = /(?:^|; )(?:__Host-)?windtee[_-]theme=(\w+)/.exec(document.cookie) ?? [];
  if (theme) document.documentElement.dataset.theme = theme;
}

/** Whether the school has all of this card, said as a stamp that keeps up with the outbox. */
async function stampOf(person, card) {
  const stamp = make("p", { class: "stamp stamp-draft", "data-stamp": true });
  const tell = async () => {
    const draft = await db.get("drafts", [person, card.record]);
    const waits = draft?.dirty || (await letters.of(person, card.record)).length > 0;
    const known = Math.max(card.version, draft?.version ?? 0) > 0;
    const [title, words] = waits
      ? [t("On this phone only"), t("not at the school yet")]
      : [t("Draft"), known ? t("the school has all of it") : t("not begun")];
    stamp.replaceChildren(make("strong", {}, title), words);
  };
  addEventListener("windtee-outbox", tell);
  await tell();
  return stamp;
}

/** How old the card is, said on the card itself. */
function ageLine(card) {
  const words = { time: clock(Date.parse(card.made_at), card.setting.zone), age: age(Date.parse(card.made_at)) };
  const said = t("Taken along {time}, {age}. What was signed since is not on it.", words);
  const kind = worry(Date.parse(card.made_at)) === "fresh" ? "small dim" : "summary";
  return make("p", { class: kind, role: "note" }, said);
}

function heading(card, title, stamp) {
  document.title = `${title}, ${card.student.name}`;
  return [
    make("nav", { class: "crumbs", "aria-label": t("Where you are") },
      make("ol", { class: "crumbs-list" }, make("li", {}, make("a", { href: "/phone" }, t("This phone"))))),
    make("div", { class: "opening" },
      make("div", {}, make("h1", {}, title), make("p", {}, `${card.student.name} · ${card.setting.lesson.code.toUpperCase()} ${card.title}`)),
      stamp),
    ageLine(card),
  ];
}

function notHere() {
  main.replaceChildren(
    make("h1", {}, t("This card is not on this phone")),
    make("p", {}, t("It was not taken along. What was typed on it is kept, and goes out when there is a network.")),
    make("p", { class: "row" }, make("a", { class: "button button-signal", href: "/phone" }, t("Cards on this phone")),
      make("a", { class: "button", href: "" }, t("Try the server again"))),
  );
}

/** Signed records are the school's; what of them is here are cards taken along or signed here. */
function recordNotHere() {
  document.title = t("This record is not on this phone");
  main.replaceChildren(
    make("h1", {}, t("This record is not on this phone")),
    make("p", { role: "status" }, silence()),
    make("p", {}, t("A phone keeps the cards you took along and what you signed on it. Other records are at the school: open this page again once there is a network.")),
    make("p", { class: "row" }, make("a", { class: "button button-signal", href: "" }, t("Try the server again")),
      make("a", { class: "button", href: "/phone" }, t("Cards on this phone"))),
  );
}

/** The card a record is or was, where this phone has anything of it. */
async function recorded(person, record) {
  const kept = await Promise.all(["cards", "drafts"].map((store) => db.get(store, [person, record])));
  return kept.some(Boolean) ? lesson(person, record) : recordNotHere();
}

async function locked(person) {
  const place = make("section", { class: "stack" });
  main.replaceChildren(make("h1", {}, silence()), place);
  await unlock.ask(place, person, route);
}

/** The form of a card with the desk that follows it, made once for what the card builds on. */
async function opened(person, card, ways) {
  const known = forms.get(card.record);
  const after = String(card.after ?? "");
  if (known?.after === after) return known;
  if (known) known.desk.halted = true;
  const form = carding.form(card);
  const made = { form, after, desk: await carding.begin(form, person, card, ways) };
  forms.set(card.record, made);
  return made;
}

/** The card, its flow run or its review, from the pocket. */
async function lesson(person, record, page) {
  if ((await vault.find(person)) && !(await vault.opened(person))) return locked(person);
  const card = await caughtUp(person, await pocket.find(person, record));
  if (!card) return notHere();
  const toReview = () => go(`/lessons/${record}/review`);
  const toFlow = () => go(`/lessons/${record}/flow`);
  const back = () => go(`/lessons/${record}`);
  const code = card.setting.lesson.code.toUpperCase();
  const isSigned = card.signed || (await letters.of(person, record)).some((one) => one.signed);
  if (page === "review" || isSigned) {
    const shown = await reviewing.show(person, card, back);
    return main.replaceChildren(...heading(card, t("Review and sign"), null), shown);
  }
  const { form, desk } = await opened(person, card, { toReview, toFlow });
  const stamp = await stampOf(person, card);
  if (page === "flow") {
    const flowing = await import("./flowing.js");
    const run = flowing.run(desk, carding.settingOf(card), back);
    return main.replaceChildren(...heading(card, t("Flow run"), stamp), run);
  }
  carding.refresh(form, desk, card);
  return main.replaceChildren(...heading(card, `${code} ${card.title}`, stamp), form);
}

function go(path) {
  history.pushState({}, "", path);
  scrollTo(0, 0);
  return route();
}

async function route() {
  const person = await db.whose();
  const [, record, page] = /^\/lessons\/(\w+)(?:\/(review|flow))?$/.exec(location.pathname) ?? [];
  if (record) return lesson(person, record, page);
  const [, seen] = /^\/records\/(\w+)$/.exec(location.pathname) ?? [];
  if (seen) return recorded(person, seen);
  shell.querySelector("h1").textContent = silence();
  main.replaceChildren(shell);
  return fill(true);
}

light();
shell.querySelector("[data-retry]").href = location.pathname;
addEventListener("popstate", () => location.reload());
addEventListener("windtee-outbox", () => shell.isConnected && refresh(true));
await route();
await sending.begin();
