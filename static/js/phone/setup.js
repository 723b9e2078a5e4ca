// The page "Phones that sign": sets this phone up, once, with the person's secret.

import { t } from "../words.js";
import * as db from "./db.js";
import { button, flash, make } from "./dom.js";
import * as drafts from "./drafts.js";
import { token } from "./outbox.js";
import * as pocket from "./pocket.js";
import { onSubmit, secretField } from "./unlock.js";
import * as vault from "./vault.js";

const place = document.querySelector("[data-phones]");
const person = document.body.dataset.person ?? "";

/** Show the school the new key, with secret and second factor; its name there. */
async function introduce(made, access, typed) {
  const proof = await made.sign(`windtee phone ${person} ${access.nonce}`);
  const answer = await fetch("/api/phones", {
    method: "POST",
    headers: { Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": access.csrf },
    body: JSON.stringify({ ...typed, public: made.vault.public, proof }),
  });
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    const words = (told.problems ?? []).map((one) => one.words).join(" ");
    throw new Error(words || told.error || t("The school did not take this phone."));
  }
  return told.kid;
}

/** The vault of before, if something is still sealed by it. */
async function sealing() {
  const rows = [...(await db.all("letters", person)), ...(await drafts.dirty(person))];
  return rows.some((row) => row.sealed) ? vault.find(person) : undefined;
}

/** A fresh token for whoever this page is for; an error says why there is none. */
async function signedIn() {
  const access = await token();
  if (!access.csrf) throw new Error(access.away ? t("No network: set the phone up where there is one.") : t("Sign in again first."));
  if (access.person.id !== person) throw new Error(t("Somebody else is signed in by now. Reload this page."));
  return access;
}

/** A button that has a passkey answer for the code and then sends the form; null without one. */
function passkeyButton(made, wrong, answered) {
  if (!place.dataset.asksPasskey || !globalThis.PublicKeyCredential) return null;
  return button(t("Use a passkey instead"), async () => {
    if (!made.reportValidity()) return;
    wrong("");
    const passkey = await import("../passkey.js");
    try {
      const { csrf } = await signedIn();
      answered(await passkey.answerTo(place.dataset.asksPasskey, csrf));
      made.requestSubmit();
    } catch (error) {
      wrong(passkey.faultOf(error));
    }
  });
}

async function setUp(typed) {
  const access = await signedIn();
  const before = await sealing();
  const made = await vault.make(person, typed.secret, before);
  const kid = await introduce(made, access, typed);
  await vault.keep(made.vault, kid, typed.name);
  if (!before) await drafts.dropSettled(person);
  await vault.unlock(person, typed.secret);
  await drafts.sealAll(person);
  void navigator.storage?.persist?.(); // some browsers ask their user, who may not answer
  await pocket.take(person).catch(() => {});
}

function form(old) {
  const name = make("input", { id: "phone-name", maxlength: "60", required: true, value: t("My phone") });
  const code = make("input", { id: "phone-code", autocomplete: "one-time-code", autocapitalize: "none", spellcheck: "false" });
  const wrong = make("p", { class: "field-error", role: "alert", hidden: true });
  let passkey = "";
  const secret = secretField("phone-secret", t("Your secret"), t("It opens the cards on this phone later, too. Without a network nobody can reset it."));
  const made = make("form", { class: "stack narrow", autocomplete: "off" },
    make("h3", {}, old ? t("Set this phone up anew") : t("Set this phone up")),
    make("div", { class: "field" }, make("label", { for: "phone-name" }, t("What do you call it?")), name),
    secret.field,
    make("div", { class: "field" }, make("label", { for: "phone-code" }, t("Code of your second factor")),
      make("p", { class: "field-hint" }, t("Of the code generator, or a recovery code. Leave it empty if you have none or showed it in the last ten minutes.")), code),
    wrong,
    make("div", { class: "row" }, make("button", { class: "button-signal", type: "submit" }, t("Set this phone up"))));
  const saying = (words) => Object.assign(wrong, { textContent: words, hidden: !words });
  const use = passkeyButton(made, saying, (answer) => (passkey = answer));
  if (use) made.lastElementChild.append(use);
  onSubmit(made, secret, async () => {
    const shown = passkey;
    passkey = ""; // good for one try
    await setUp({ name: name.value, secret: secret.input.value, code: code.value, passkey: shown });
    location.assign("/phone");
  });
  return made;
}

async function begin() {
  if (!(await vault.canSign())) {
    place.append(make("p", { role: "note" },
      t("This browser cannot do it here. "), make("a", { href: "/phone" }, t("See why, and what to do"))));
    return;
  }
  const mine = await vault.find(person);
  if (mine && !mine.revoked && place.dataset.phones.split(" ").includes(mine.kid)) {
    place.append(flash(t("This phone is set up, as {name}.", { name: mine.name })));
    return;
  }
  if (mine) await vault.mark(person, true);
  place.append(form(mine));
}

if (place && "mayAdd" in place.dataset) begin();
