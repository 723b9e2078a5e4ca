// Asking for the secret that opens what is sealed on this phone.

import { t } from "../words.js";
import { make } from "./dom.js";
import * as drafts from "./drafts.js";
import { flush } from "./outbox.js";
import * as vault from "./vault.js";

/** A field for a secret with its label, and a place for what was wrong with it. */
export function secretField(id, label, hint) {
  const wrong = make("p", { class: "field-error", role: "alert", hidden: true });
  const input = make("input", { id, type: "password", autocomplete: "current-password", required: true });
  const field = make("div", { class: "field" },
    make("label", { for: id }, label), hint ? make("p", { class: "field-hint" }, hint) : null, wrong, input);
  const say = (words) => {
    wrong.textContent = words;
    wrong.hidden = !words;
  };
  return { field, input, say };
}

/** Run an act once by a form's submit; a wrong secret is said at its field. */
export function onSubmit(form, secret, act) {
  const send = form.querySelector("[type=submit]");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    secret.say("");
    send.disabled = true;
    try {
      await act();
    } catch (error) {
      secret.say(error instanceof vault.WrongSecretError ? t("This is not the secret this phone was set up with.") : error.message);
      secret.input.focus();
    } finally {
      send.disabled = false;
    }
  });
}

/** Put the question into `place` while the vault of `person` is there and locked. */
export async function ask(place, person, opened) {
  place.replaceChildren();
  place.hidden = true;
  if (!(await vault.find(person)) || (await vault.opened(person))) return false;
  const secret = secretField("phone-secret", t("Your secret"),
    t("It opens the cards on this phone for {hours} hours, or until {minutes} minutes pass without use.", { hours: vault.HOURS, minutes: vault.IDLE_MINUTES }));
  const form = make("form", { class: "stack narrow", autocomplete: "off" },
    make("h2", {}, t("This phone is locked")),
    secret.field,
    make("div", { class: "row" }, make("button", { class: "button-signal", type: "submit" }, t("Open this phone"))));
  onSubmit(form, secret, async () => {
    await vault.unlock(person, secret.input.value);
    await drafts.sealAll(person);
    place.hidden = true;
    place.replaceChildren();
    await opened();
    await flush(true);
  });
  place.append(form);
  place.hidden = false;
  return true;
}
