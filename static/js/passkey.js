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
  }).catch(() => null);
  if (!answer) throw new Error(t("No network: nothing was sent, nothing is lost."));
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok || !told.challenge) {
    throw new Error(told.error || t("Reload this page and try again."));
  }
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

/** Why there was no answer, in words; what a browser says of it is in English, for programmers. */
export function faultOf(error, joining = false) {
  if (!(error instanceof DOMException)) return error.message; // words of ours
  if (error.name === "SecurityError") {
    return t("Browsers keep passkeys for names, not for an address made of numbers.");
  }
  if (error.name === "InvalidStateError") return t("This device keeps a passkey of yours already.");
  if (error.name !== "NotAllowedError") {
    return t("This browser gave no passkey ({kind}).", { kind: error.name });
  }
  return joining
    ? t("No passkey was made: it was cancelled, refused or took too long. Try again.")
    : t("The passkey was not used: it was cancelled, took too long, or this device has none of yours. Try again, or type a code.");
}

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
  const joining = place.dataset.passkey === "join";
  const act = joining ? join : show;
  button.addEventListener("click", async () => {
    if (!form.reportValidity()) return;
    fault.hidden = true;
    try {
      const asked = await question(place.dataset.question, form.elements.csrf_token.value);
      form.elements.passkey.value = JSON.stringify(await act(asked));
      form.requestSubmit();
    } catch (error) {
      fault.textContent = faultOf(error, joining);
      fault.hidden = false;
    }
  });
}

document.querySelectorAll("[data-passkey]").forEach(begin);
