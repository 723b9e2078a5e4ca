// The page that verifies: the file is read and judged here, and never sent.

import { verifyBundle } from "./verify.js";
import { t } from "./words.js";

const form = document.querySelector("[data-verify]");
const place = document.querySelector("[data-verdict-place]");

const JUDGED = {
  0: t("The record is whole and unaltered."),
  1: t("This browser cannot check signatures."),
  2: t("Something in the file was changed after it was signed."),
  3: t("Entries are missing, or the ledger was rolled back or forked."),
  4: t("It is signed with a key that is unknown, was revoked, or is not the one named."),
  5: t("This is no training record that can be read."),
  6: t("It shows as current what was replaced."),
};
const UNCOMPARED = t("The file agrees with itself. Whose key signed it was not compared.");

function line(kind, words) {
  const made = document.createElement("p");
  const mark = document.createElement("span");
  mark.className = kind;
  mark.textContent = words;
  made.append(mark);
  return made;
}

async function sha256(bytes) {
  if (!crypto.subtle) return "";
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest, (one) => one.toString(16).padStart(2, "0")).join("");
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const [file] = form.elements.file.files;
  if (!file) {
    place.replaceChildren(line("field-error", t("Choose a file.")));
    return;
  }
  const bytes = new Uint8Array(await file.arrayBuffer());
  if (bytes[0] === 0x25 && bytes[1] === 0x50) {
    const words = t("This is the PDF: choose the file that is attached to it.");
    place.replaceChildren(line("field-error", words));
    return;
  }
  const typed = form.elements.key.value.trim();
  const told = await verifyBundle(bytes, typed || undefined);
  const good = told.code === 0 && typed;
  const known = told.code === 0 ? "verdict-unknown" : "verdict-missing";
  const kind = `verdict ${good ? "verdict-met" : known}`;
  const plainly = told.code === 0 && !typed ? UNCOMPARED : JUDGED[told.code];
  const exactly = line("typed", told.line);
  exactly.lang = "en";
  const lines = [line(kind, plainly), exactly];
  lines.push(line("small dim", t("Judged on this device; nothing was sent.")));
  const digest = await sha256(bytes);
  if (digest) lines.push(line("typed", t("SHA-256 of the file: {digest}", { digest })));
  place.replaceChildren(...lines);
});
