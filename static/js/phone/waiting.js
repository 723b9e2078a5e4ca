// What waits on this phone, letter by letter, and what can be done about one that is stuck.

import { t } from "../words.js";
import * as db from "./db.js";
import { button, flash, make } from "./dom.js";
import * as drafts from "./drafts.js";
import { saveFile, takeFile } from "./file.js";
import * as letters from "./letters.js";
import { isHeld } from "./held.js";
import { ofOthers, ofSomebody } from "./others.js";
import { announce, flush } from "./outbox.js";
import * as pocket from "./pocket.js";
import { age, clock } from "./times.js";
import * as vault from "./vault.js";

const SAID = {
  waiting: () => t("waits for the network"),
  conflict: () => t("saved elsewhere meanwhile: choose one of the two"),
  changed: () => t("the school's records have changed meanwhile: review and sign again"),
  quarantined: () => t("this phone's key is not taken any more: the words are safe here, the signature is not sent"),
  refused: () => t("the school does not take it"),
};

function differences(answer) {
  const rows = (answer.differences ?? []).map((one) =>
    make("tr", {},
      make("th", { scope: "row" }, one.where),
      make("td", { "data-label": t("Yours") }, one.mine || t("empty")),
      make("td", { "data-label": t("Theirs") }, one.theirs || t("empty"))));
  const head = [t("Where"), t("Yours, on this phone"), t("Theirs, at the school")];
  return make("table", { class: "folds" },
    make("thead", {}, make("tr", {}, head.map((words) => make("th", { scope: "col" }, words)))),
    make("tbody", {}, rows));
}

/** The card again: saved at the school as a draft if it can be had, with what it knows by now. */
async function openAgain(letter, base) {
  await letters.takeBack(letter, base);
  await flush(true);
  await pocket.take(letter.person).catch(() => {});
  location.assign(`/lessons/${letter.record}`);
}

/** Both versions, side by side, and the choice between them. */
function conflict(letter, answer, done) {
  const signed = answer.state === "signed";
  const mine = async () => {
    await letters.note(letter.key, { state: "waiting", base: answer.version, next_at: 0 });
    await flush(true);
    await done();
  };
  const theirs = async () => {
    await letters.forget(letter);
    await pocket.take(letter.person).catch(() => {});
    announce();
    await done();
  };
  const words = {
    signed: t("This lesson was signed elsewhere meanwhile. Yours stays here until you decide: save it to a file if you want to keep it."),
  }[answer.state] ?? t("Nothing is overwritten: both are whole until you choose.");
  return [
    make("p", {}, words),
    answer.differences?.length ? differences(answer) : null,
    make("div", { class: "row" },
      signed ? null : button(letter.signed ? t("Send mine, signed as it is") : t("Keep mine"), mine, "button-signal"),
      button(signed ? t("Drop mine, theirs is signed") : t("Take theirs"), theirs)),
  ];
}

function refused(letter, answer) {
  const gone = answer.reason === "unknown";
  const problems = (answer.problems ?? []).map((one) => make("li", {}, one.words ?? String(one)));
  return [
    gone ? make("p", {}, t("The draft is not at the school any more: it was thrown away there. Your words are whole; sent again they make it anew.")) : null,
    answer.error && !gone ? make("p", {}, answer.error) : null,
    problems.length ? make("ul", {}, problems) : null,
    make("div", { class: "row" },
      button(t("Open it as a card again"), () => openAgain(letter, gone ? 0 : undefined), "button-signal")),
  ];
}

async function choices(letter, done) {
  if (letter.state === "waiting") return [];
  const answer = await letters.answerTo(letter);
  return letter.state === "conflict" ? conflict(letter, answer, done) : refused(letter, answer);
}

async function item(letter, done) {
  const { words } = await letters.read(letter);
  const kind = letter.signed ? t("signed") : t("draft");
  const isLater = letter.state === "waiting" && (await isHeld(letter));
  const said = isLater ? t("waits for the lesson signed before it") : SAID[letter.state]();
  const tries = letter.tries ? t(", tried {n} times", { n: letter.tries }) : "";
  return make("li", { class: "stack", "data-letter": letter.state },
    make("h3", {}, words.title),
    make("p", { class: "small" }, `${kind}, ${clock(letter.made_at)}, ${age(letter.made_at)}${tries}: ${said}`),
    await choices(letter, done));
}

function draftItem(draft) {
  const title = draft.words?.title ?? t("A card");
  return make("li", {},
    make("h3", {}, make("a", { href: `/lessons/${draft.record}` }, title)),
    make("p", { class: "small" }, t("draft, {time}: on this phone only", { time: clock(draft.changed_at) })));
}

async function sealedItems(rows) {
  return rows.length
    ? [make("li", {}, t("{n} sealed: open this phone to see them.", { n: rows.length }))]
    : [];
}

async function items(person, done) {
  const found = [];
  const sealed = [];
  for (const letter of await letters.all(person)) {
    try {
      found.push(await item(letter, done));
    } catch (error) {
      if (!(error instanceof vault.LockedError)) throw error;
      sealed.push(letter);
    }
  }
  for (const row of await drafts.dirty(person)) {
    try {
      found.push(draftItem(await drafts.read(row)));
    } catch (error) {
      if (!(error instanceof vault.LockedError)) throw error;
      sealed.push(row);
    }
  }
  return [...found, ...(await sealedItems(sealed))];
}

let brought = null;

/** What a file held, said under the list, and again when the list is shown anew. */
function fileRow(person, count, done) {
  const input = make("input", { type: "file", id: "outbox-file", accept: ".json,application/json" });
  input.addEventListener("change", async () => {
    const [file] = input.files;
    const said = await takeFile(person, file).catch((error) => ({ error: error.message }));
    brought = flash(said.error ?? t("{n} taken in, {known} were here already.", said), Boolean(said.error));
    await done();
  });
  return [
    count ? make("div", { class: "row" }, button(t("Save what waits to a file"), () => saveFile(person))) : "",
    make("details", { open: count > 0 },
      make("summary", {}, t("What waited on another phone")),
      make("p", { class: "small dim" }, t("The file holds the words as plain text. Whoever wrote them can bring it in on any device and send them from there.")),
      make("div", { class: "field" }, make("label", { for: "outbox-file" }, t("Bring in such a file")), input)),
    brought ?? "",
  ];
}

/** What the school took in lately and has given a number. */
async function delivered(person) {
  const rows = (await db.all("receipts", person)).filter((row) => row.receipt);
  const newest = rows.sort((one, other) => other.at - one.at).slice(0, 5);
  return newest.length ? [
    make("h3", {}, t("Signed here, and at the school")),
    make("ul", { class: "ruled" }, newest.map((row) =>
      make("li", {}, make("a", { href: `/records/${row.record}` }, t("Entry {seq} of the ledger", { seq: row.receipt.seq })), `, ${clock(row.at)}`))),
  ] : [];
}

let said = "";

/** Why what was sent just now has not arrived; it stays when the list is shown anew. */
function whyNot(told) {
  if (told.rests) return t("The school is busy: it is sent in a moment, by itself.");
  if (told.away) return t("No network: nothing was sent, nothing is lost.");
  return told.asks === "sign-in" ? t("Sign in first: then it is sent.") : "";
}

/** What stands above the list: how much waits of `person`, or of whom where nothing of theirs does. */
function opening(person, own, others) {
  if (own) return [make("h2", {}, t("{n} not sent", { n: own }))];
  if (!person && others) {
    return [
      make("h2", {}, ofSomebody(others)),
      make("p", {}, t("Nothing of it is lost. It is sent when its author signs in on this phone.")),
      make("p", { class: "row" }, make("a", { class: "button", href: "/sign-in?next=/phone" }, t("Sign in"))),
    ];
  }
  return others
    ? [make("h2", {}, t("Nothing of yours waits on this phone"))]
    : [make("h2", {}, t("Nothing waits on this phone")), make("p", { class: "dim" }, t("The school has everything that was typed here."))];
}

/** Fill `place` with what waits of `person`, and say how much waits of others. */
export async function show(place, person) {
  const done = () => show(place, person);
  const rows = await letters.all();
  const others = [...rows, ...(await drafts.dirty())].filter((row) => row.person !== person);
  const listed = person ? await items(person, done) : [];
  const send = button(t("Send now"), async () => {
    brought = null;
    said = whyNot(await flush(true));
    await done();
  }, "button-signal");
  const number = new Set(others.map((row) => row.record)).size;
  place.replaceChildren(
    ...opening(person, listed.length, number),
    listed.length ? make("ul", { class: "ruled" }, listed) : "",
    listed.length ? make("div", { class: "row" }, send) : "",
    person && number ? make("p", { role: "note" }, ofOthers(number)) : "",
    listed.length && said ? flash(said) : "",
    ...(await delivered(person)),
    ...(person ? fileRow(person, listed.length, done) : []),
  );
  place.hidden = false;
}
