// Offers a newer version of Windtee that waits, and hands over to it when nobody is typing.

import { t } from "../words.js";
import { button, make } from "./dom.js";

/** Say, once a page, that a newer worker waits. */
export function offer(waiting) {
  const place = document.querySelector("[data-notices]");
  if (!place || place.querySelector("[data-new-version]")) return;
  const said = make("span", { role: "status" }, t("A new version of Windtee is ready."));
  const use = button(t("Use it now"), () => takeOver(waiting, said));
  place.append(make("p", { class: "flash row", "data-new-version": true }, said, use));
  place.hidden = false;
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
