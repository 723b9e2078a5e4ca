// Signing out: what still waits is asked about, never dropped in silence; the rest of a person's
// cards leaves this phone, and the vault is locked.

import { t } from "../words.js";
import * as db from "./db.js";
import { button, make } from "./dom.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { flush, summary } from "./outbox.js";
import * as pocket from "./pocket.js";
import * as vault from "./vault.js";

async function clear(person) {
  await pocket.empty(person);
  await drafts.dropSettled(person);
  await vault.lock(person);
  await db.drop("facts", "person");
}

async function forgetAll(person) {
  for (const letter of await letters.all(person)) await letters.forget(letter);
  for (const draft of await drafts.dirty(person)) await drafts.forget(person, draft.record);
}

function ask(count, leave, person) {
  const sure = make("input", { type: "checkbox" });
  const shown = make("dialog", { class: "stack", "aria-labelledby": "leaving" });
  const away = (act) => async () => {
    await act();
    shown.close();
    await leave();
  };
  const drop = button(t("Drop what waits and sign out"), away(() => forgetAll(person)), "button-plain");
  drop.disabled = true;
  sure.addEventListener("change", () => (drop.disabled = !sure.checked));
  shown.append(
    make("h2", { id: "leaving" }, count === 1 ? t("1 card on this phone is not sent") : t("{n} cards on this phone are not sent", { n: count })),
    make("p", {}, t("What waits stays here, and goes out when you sign in on this phone again.")),
    make("div", { class: "row" },
      button(t("Stay signed in"), () => shown.close(), "button-signal"),
      button(t("Sign out, keep it here"), away(() => {}))),
    make("label", { class: "option" }, sure, t("Nobody needs these words: they will be gone for good.")),
    drop,
  );
  shown.addEventListener("close", () => shown.remove());
  document.body.append(shown);
  shown.showModal();
}

/** Ask about what waits, clear what is to go, then `signOut`. */
export async function leave(person, signOut) {
  const go = async () => {
    await clear(person);
    signOut();
  };
  try {
    if ((await summary(person)).count) await flush(true);
    const { count } = await summary(person);
    if (count) ask(count, go, person);
    else await go();
  } catch {
    signOut(); // nothing is kept here that could be lost
  }
}
