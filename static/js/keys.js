// Keys for the whole page: `/` finds, `?` tells the keys, `n` goes to the next task without a
// grade. Nothing typed into a field is ever taken for a key, nor a key held with another.

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

/** Tell the keys, by a script and a page that are fetched when they are asked for. */
async function tell() {
  const link = document.querySelector("[data-keys-link]");
  if (!link) return;
  try {
    await (await import("./keys_sheet.js")).tell(link.href);
  } catch {
    await away();
  }
}

/** Said with what is here already, for without a network nothing can be fetched to say it. */
async function away() {
  const { t } = await import("./words.js"); // on every page already
  const place = document.querySelector("[data-notices]");
  if (place.querySelector("[data-no-keys]")) return;
  const said = document.createElement("p");
  said.className = "flash flash-news";
  said.role = "status";
  said.dataset.noKeys = "";
  said.textContent = t("No network: the keys can be told once there is one.");
  place.append(said);
  place.hidden = false;
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
