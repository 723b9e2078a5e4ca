// Registers the worker, and hands over to a newer one when nobody is typing.

import { t } from "../words.js";
import { button, make } from "./dom.js";

const places = () => document.querySelector("[data-notices]");
let ready = false;

/** Whether words are on this page that are kept nowhere yet; pages that take words set this. */
export const risk = { asked: () => false };

function notice(waiting) {
  if (ready || !places()) return;
  ready = true;
  const said = make("span", { role: "status" }, t("A new version of Windtee is ready."));
  const use = button(t("Use it now"), () => takeOver(waiting, said));
  places().append(make("p", { class: "flash row", "data-new-version": true }, said, use));
  places().hidden = false;
}

function takeOver(waiting, said) {
  const { port1, port2 } = new MessageChannel();
  const answered = new Promise((tell) => (port1.onmessage = ({ data }) => tell(data.waits)));
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("take-over", [port2]);
  return answered.then((waits) => {
    if (waits) said.textContent = t("Words are being typed on another page of Windtee: finish there first.");
  });
}

function watch(registration) {
  if (registration.waiting && navigator.serviceWorker.controller) notice(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const coming = registration.installing;
    coming?.addEventListener("statechange", () => {
      if (coming.state === "installed" && navigator.serviceWorker.controller) notice(coming);
    });
  });
}

/** Register the worker; a phone that cannot have one is told so on its own page. */
export async function register() {
  navigator.serviceWorker.addEventListener("message", ({ data, ports }) => {
    if (data?.ask === "at-risk") ports[0].postMessage(risk.asked());
  });
  try {
    watch(await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" }));
  } catch (error) {
    if (navigator.onLine) console.warn("no worker:", error.message);
  }
}
