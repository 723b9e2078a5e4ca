// Keys for the whole page: `/` finds, `?` tells the keys, `n` goes to the next task without a
// grade. Nothing typed into a field is ever taken for a key, nor a key held with another.

import { t } from "./words.js";

const TYPED = "input:not([type=radio], [type=checkbox], [type=submit], [type=button]), textarea, select, [contenteditable]";
const QUICK = 150;

/** The field in the menu, the menu opened where it is folded away. */
function find() {
  const field = document.querySelector("[data-find] input");
  if (!field) return false;
  if (!field.checkVisibility()) document.getElementById("menu").showPopover();
  field.focus();
  field.select();
  return true;
}

/** The page of keys, without what is of no use here, over this page. */
async function tell() {
  const link = document.querySelector("[data-keys-link]");
  if (!link) return;
  const open = document.querySelector("dialog.keys");
  if (open) {
    open.close();
    return;
  }
  const answer = await fetch(link.href);
  const read = new DOMParser().parseFromString(await answer.text(), "text/html");
  const sheets = read.querySelector("[data-keys]");
  if (!answer.ok || !sheets) {
    location.assign(link.href);
    return;
  }
  for (const one of sheets.querySelectorAll("[data-where]")) {
    if (!document.querySelector(one.dataset.where)) one.remove();
  }
  const dialog = document.createElement("dialog");
  dialog.className = "keys";
  const title = sheets.querySelector("h1");
  title.id = "keys-title";
  dialog.setAttribute("aria-labelledby", title.id);
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = t("Close");
  close.addEventListener("click", () => dialog.close());
  dialog.append(document.adoptNode(sheets), close);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

function nextTask() {
  const next = document.querySelector("[data-next]");
  if (!next) return false;
  next.click();
  return true;
}

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest?.(TYPED)) return;
  if (event.key === "?") tell();
  else if (document.querySelector("dialog[open]")) return;
  else if (!(event.key === "/" && find()) && !(event.key === "n" && nextTask())) return;
  event.preventDefault();
});

// A few names while typing; the search itself needs no script.
for (const form of document.querySelectorAll("[data-find]")) {
  const field = form.querySelector("input");
  const names = form.querySelector("datalist");
  let waiting = 0;
  field.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(async () => {
      const address = `${form.action}?${new URLSearchParams({ q: field.value })}`;
      const answer = await fetch(address, { headers: { Accept: "application/json" } }).catch(() => null);
      if (!answer?.ok) return;
      const told = await answer.json();
      names.replaceChildren(...told.names.map((name) => Object.assign(document.createElement("option"), { value: name })));
    }, QUICK);
  });
}
