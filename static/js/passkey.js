// Passkeys: asks the browser for one, puts its answer into the form and sends that.

import { t } from "./words.js";

const bytes = (text) => {
  const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
  return Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
};

const text = (buffer) => {
  const signs = String.fromCharCode(...new Uint8Array(buffer));
  return btoa(signs).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
};

const withBytes = (listed) => (listed || []).map((one) => ({ ...one, id: bytes(one.id) }));

async function question(address, token) {
  const answer = await fetch(address, {
    method: "POST",
    headers: { Accept: "application/json", "X-CSRFToken": token },
  });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.error);
  return { ...told, challenge: bytes(told.challenge) };
}

async function join(asked) {
  const made = await navigator.credentials.create({
    publicKey: {
      ...asked,
      user: { ...asked.user, id: bytes(asked.user.id) },
      excludeCredentials: withBytes(asked.excludeCredentials),
    },
  });
  return {
    ...named(made),
    response: {
      clientDataJSON: text(made.response.clientDataJSON),
      attestationObject: text(made.response.attestationObject),
    },
  };
}

async function show(asked) {
  const found = await navigator.credentials.get({
    publicKey: { ...asked, allowCredentials: withBytes(asked.allowCredentials) },
  });
  return {
    ...named(found),
    response: {
      clientDataJSON: text(found.response.clientDataJSON),
      authenticatorData: text(found.response.authenticatorData),
      signature: text(found.response.signature),
    },
  };
}

/** What a passkey of the reader's answers to the question at an address, for a form's field. */
export const answerTo = async (address, token) =>
  JSON.stringify(await show(await question(address, token)));

/** Why there was no answer, in words. */
export const faultOf = (error) =>
  error.name === "NotAllowedError" ? t("The passkey was not used.") : error.message;

const named = (credential) => ({
  id: credential.id,
  rawId: text(credential.rawId),
  type: credential.type,
});

function begin(place) {
  const form = place.closest("form");
  const button = place.querySelector("[data-passkey-button]");
  const fault = place.querySelector("[data-passkey-fault]");
  if (!window.PublicKeyCredential) return;
  button.hidden = false;
  form.querySelector("[data-passkey-none]")?.remove();
  button.addEventListener("click", async () => {
    if (!form.reportValidity()) return;
    fault.hidden = true;
    try {
      const act = place.dataset.passkey === "join" ? join : show;
      const asked = await question(place.dataset.question, form.elements.csrf_token.value);
      form.elements.passkey.value = JSON.stringify(await act(asked));
      form.requestSubmit();
    } catch (error) {
      fault.textContent = faultOf(error);
      fault.hidden = false;
    }
  });
}

document.querySelectorAll("[data-passkey]").forEach(begin);
