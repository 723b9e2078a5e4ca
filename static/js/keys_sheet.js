// The page of keys, without what is of no use here, over the page that is open.

import { button } from "./phone/dom.js";
import { t } from "./words.js";

/** The sheet that stands at an address; nothing when there is none. */
async function sheetAt(address) {
  const answer = await fetch(address);
  const read = new DOMParser().parseFromString(await answer.text(), "text/html");
  const sheet = answer.ok ? read.querySelector("[data-keys]") : null;
  for (const one of sheet?.querySelectorAll("[data-where]") ?? []) {
    if (!document.querySelector(one.dataset.where)) one.remove();
  }
  return sheet;
}

function show(sheet) {
  const title = sheet.querySelector("h1");
  // Read from its top: else the dialog begins at its only button, at the end of it.
  Object.assign(title, { id: "keys-title", tabIndex: -1, autofocus: true });
  const dialog = document.createElement("dialog");
  dialog.className = "keys";
  dialog.setAttribute("aria-labelledby", title.id);
  dialog.append(document.adoptNode(sheet), button(t("Close"), () => dialog.close()));
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

/** Open the sheet that stands at an address, or close it when it is open; fails without a network. */
export async function tell(address) {
  const open = document.querySelector("dialog.keys");
  if (open) {
    open.close();
    return;
  }
  const sheet = await sheetAt(address);
  if (sheet) show(sheet);
  else location.assign(address);
}
