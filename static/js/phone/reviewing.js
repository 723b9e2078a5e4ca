// Review and sign on this phone: what exactly a name is put to, the secret, and the letter.

import { review } from "../rules.js";
import { inUnit } from "../rules/readings.js";
import { bodyOf, statementOf } from "../statement.js";
import { t } from "../words.js";
import { newest, settingOf } from "./carding.js";
import { flash, make } from "./dom.js";
import * as db from "./db.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { announce, flush } from "./outbox.js";
import { onSubmit, secretField } from "./unlock.js";
import * as vault from "./vault.js";

const fact = (name, words) => make("div", {}, make("dt", {}, name), make("dd", {}, String(words)));
const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);
const section = (...content) => make("section", { class: "stack" }, ...content);
const CALLED = {
  complete: t("complete"), incomplete: t("incomplete"), repeat: t("repeat"),
  passed: t("passed"), failed: t("failed"), discontinued: t("discontinued"),
  "safety-critical": t("safety-critical"), procedural: t("procedural"), technique: t("technique"),
};
const called = (code) => CALLED[code] ?? code;
const severity = (code) => make("span", { class: `severity severity-${code}` }, called(code));

function facts(found) {
  const { facts: said, proposed } = found;
  return section(
    make("h2", {}, t("What will be signed")),
    make("dl", { class: "facts" },
      fact(t("Outcome"), found.outcome ? capital(called(found.outcome)) : t("not chosen")),
      fact(t("Grades suggest"), capital(called(proposed.outcome))),
      fact(t("Graded"), t("{n} of {all}", { n: said.graded, all: said.tasks })),
      said.aircraft === null ? null : fact(t("Aircraft"), said.aircraft),
      fact(t("In the aircraft"), `${said.flight} h`),
      fact(t("Ground"), `${said.ground} h`),
      fact(t("Landings"), said.landings),
      fact(t("Next lesson"), said.next_lesson)),
    make("p", { class: "dim" }, proposed.why),
  );
}

function below(found) {
  const items = found.below.map((one) =>
    make("li", {}, make("strong", {}, one.title), t(": {level}, target {target} ", one),
      one.remark ? make("span", { class: "dim" }, one.remark) : null));
  const number = found.below.length;
  return section(
    make("h2", {}, number === 1 ? t("1 task below target") : t("{n} tasks below target", { n: number })),
    number ? make("ul", { class: "ruled" }, items) : make("p", {}, t("None.")),
    ...marks(t("Errors marked"), found.marks),
    ...marks(t("Proposed but not confirmed: will not be signed"), found.unconfirmed),
    ...readings(found.readings),
    make("h3", {}, t("Carried into the next lesson")),
    make("p", {}, found.carried.length ? `${found.carried.join(", ")}.` : t("Nothing.")),
    found.remarks ? make("blockquote", {}, found.remarks) : null,
  );
}

function marks(title, listed) {
  if (!listed.length) return [];
  const items = listed.map((one) => make("li", {}, `${one.title}: ${one.words} `, severity(one.severity)));
  return [make("h3", {}, title), make("ul", { class: "ruled" }, items)];
}

function readings(listed) {
  if (!listed.length) return [];
  const verdict = ({ met }) => met === null ? null
    : make("span", { class: `verdict verdict-${met ? "met" : "missing"}` }, met ? t("within limits") : t("outside limits"));
  const limits = ({ met, held_to }) => met === null ? null : make("span", { class: "small dim" }, ` ${held_to}`);
  const items = listed.map((one) => make("li", {}, `${one.words}: ${inUnit(one.typed, one.unit)} `, verdict(one), limits(one)));
  return [make("h3", {}, t("Readings")), make("ul", { class: "ruled" }, items)];
}

function problems(listed, back) {
  return make("div", { class: "summary", role: "alert" },
    make("p", {}, make("strong", {}, listed.length === 1 ? t("1 thing to put right before this can be signed") : t("{n} things to put right before this can be signed", { n: listed.length }))),
    make("ul", {}, listed.map((one) => make("li", {}, one.words))),
    make("p", {}, backButton(back)));
}

const backButton = (back) => make("button", { type: "button", click: back }, t("Back to the card"));

/** The letter with the signature made; its words are the card just reviewed, to the byte. */
async function sign(person, pocketed, draft, card, secret) {
  const setting = settingOf(pocketed);
  const body = bodyOf(card, setting, pocketed.body);
  const text = statementOf({ body, actor: person, zone: setting.zone });
  const signed = await vault.sign(person, secret, text);
  const words = { title: draft.words?.title ?? titleOf(pocketed), card };
  return letters.post(draft, words, signed, pocketed.after);
}

const titleOf = ({ student, setting }) => `${student.name}, ${setting.lesson.code.toUpperCase()}`;

function signForm(person, pocketed, draft, card, back) {
  const secret = secretField("sign-secret", t("Your secret"), "");
  const form = make("form", { class: "stack narrow", autocomplete: "off" },
    make("h2", {}, t("Sign on this phone")),
    make("p", {}, t("By signing you state: I gave this lesson and these grades are mine. A signed record is never changed; it can only be amended, and both stay readable.")),
    make("p", { class: "small" }, t("The signature is made here. It counts once the school has taken it; until then the record is on this phone only.")),
    secret.field,
    make("div", { class: "row" },
      make("button", { class: "button-signal", type: "submit" }, t("Sign this record")), backButton(back)));
  onSubmit(form, secret, async () => {
    const letter = await sign(person, pocketed, draft, card, secret.input.value);
    await queued(form, person, letter);
  });
  return form;
}

/** Nothing is called signed and stored before the school's receipt is here. */
async function queued(form, person, letter) {
  const place = make("div", { class: "stack", "data-signed": letter.key });
  form.replaceWith(place);
  const told = async () => place.replaceChildren(...(await outcome(person, letter)));
  await told();
  addEventListener("windtee-outbox", told);
  announce();
  await flush(true);
}

async function outcome(person, { key, record }) {
  const letter = await db.get("letters", key);
  const receipt = (await db.get("receipts", [person, record]))?.receipt;
  if (letter?.state === "waiting") {
    return [
      make("p", { class: "stamp stamp-draft" }, make("strong", {}, t("On this phone only")), t("signed here, not at the school yet")),
      flash(t("Signed and queued. It goes out by itself when there is a network; keep this phone until then.")),
      make("p", {}, make("a", { class: "button", href: "/phone" }, t("Cards on this phone"))),
    ];
  }
  if (letter) {
    return [flash(t("The school did not take it. Your words are all here."), true),
      make("p", {}, make("a", { class: "button button-signal", href: "/phone#waiting" }, t("Decide what becomes of it")))];
  }
  if (!receipt) return [];
  return [
    make("p", { class: "stamp stamp-signed" }, make("strong", {}, t("Signed")), t("entry {seq} of the school's ledger", { seq: receipt.seq })),
    make("p", { class: "hash" }, t("Statement {digest}", { digest: receipt.statement })),
    make("p", { class: "row" }, make("a", { class: "button", href: `/records/${record}` }, t("Open the record")),
      make("a", { class: "button", href: receipt.url }, t("Receipt"))),
  ];
}

/** The review of the newest card of this record on this phone. */
export async function show(person, pocketed, back) {
  const { draft, card } = await newest(person, pocketed);
  const waiting = await letters.of(person, pocketed.record);
  const signed = waiting.find((one) => one.signed) ?? pocketed.signed;
  const place = make("div", { class: "stack" });
  if (signed) {
    place.append(...(await outcome(person, signed)));
    return place;
  }
  if (waiting.some((one) => one.state !== "waiting")) {
    place.append(flash(t("An earlier version of this card was not taken by the school: decide about it first."), true),
      make("p", {}, make("a", { class: "button", href: "/phone#waiting" }, t("What waits"))));
    return place;
  }
  const found = review(card, settingOf(pocketed));
  if (found.problems.length) place.append(problems(found.problems, back));
  else if (found.outcome !== found.proposed.outcome) {
    place.append(make("p", { class: "summary", role: "note" },
      make("strong", {}, t("You chose {outcome}; the grades suggest {proposed}.", { outcome: called(found.outcome), proposed: called(found.proposed.outcome) })),
      ` ${found.proposed.why} `, t("The decision is yours.")));
  }
  place.append(facts(found), below(found));
  if (!found.problems.length) place.append(signForm(person, pocketed, draft, card, back));
  return place;
}
