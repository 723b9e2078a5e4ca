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
  const drop = button(t("Drop them and sign out"), away(() => forgetAll(person)), "button-plain");
  drop.disabled = true;
  sure.addEventListener("change", () => (drop.disabled = !sure.checked));
  shown.append(
    make("h2", { id: "leaving" }, t("{n} cards on this phone are not sent", { n: count })),
    make("p", {}, t("They stay here, and go out when you sign in on this phone again.")),
    make("div", { class: "row" },
      button(t("Stay signed in"), () => shown.close(), "button-signal"),
      button(t("Sign out, keep them here"), away(() => {}))),
    make("label", { class: "option" }, sure, t("Nobody needs these words: they will be gone for good.")),
    drop,
  );
  shown.addEventListener("close", () => shown.remove());
  document.body.append(shown);
  shown.showModal();
}

/** Stand at the form that signs out. */
export function guard(form, person) {
  let asked = false;
  const leave = async () => {
    asked = true;
    await clear(person);
    form.requestSubmit();
  };
  form.addEventListener("submit", async (event) => {
    if (asked) return;
    event.preventDefault();
    try {
      if ((await summary(person)).count) await flush(true);
      const { count } = await summary(person);
      if (count) ask(count, leave, person);
      else await leave();
    } catch {
      asked = true; // nothing is kept here that could be lost
      form.requestSubmit();
    }
  });
}
