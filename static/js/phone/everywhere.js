// On every page: the worker, the count of what waits on this phone, and the sending of it.

import { t } from "../words.js";
import * as db from "./db.js";

const person = document.body.dataset.person ?? "";
const link = document.querySelector("[data-unsent]");

const waits = async () => {
  const drafts = (await db.all("drafts")).filter((row) => row.dirty);
  return [...(await db.all("letters")), ...drafts];
};

/** The number in the head of the page: cards of whoever is signed in, and of others. */
async function count() {
  const rows = await waits();
  const who = await db.whose();
  const mine = new Set(rows.filter((row) => row.person === who).map((row) => row.record));
  const n = mine.size || (who ? 0 : new Set(rows.map((row) => row.record)).size);
  link.hidden = !rows.length;
  link.dataset.unsent = String(n);
  link.textContent = n ? t("{n} not sent", { n }) : t("Somebody else's cards wait here");
  return rows.length;
}

/** A review by the school's version alone would leave out what is still on this phone. */
async function completeReview() {
  const [, record] = /^\/lessons\/(\w+)\/(?:review|flow)$/.exec(location.pathname) ?? [];
  if (!record || document.querySelector("[data-shell]")) return;
  const missing = (await waits()).some((row) => row.person === person && row.record === record);
  if (missing) location.replace(`/lessons/${record}`);
}

/** Remember who uses this phone, so that it can open their cards without a network. */
async function remember() {
  const known = await db.get("facts", "person");
  if (person && known?.id !== person) await db.put("facts", { name: "person", id: person });
}

async function begin() {
  if ("serviceWorker" in navigator) (await import("./versions.js")).register();
  await remember();
  await completeReview();
  addEventListener("windtee-outbox", count);
  if (globalThis.BroadcastChannel) {
    new BroadcastChannel("windtee-outbox").addEventListener("message", count);
  }
  // A card's page sends for itself, once it has taken up what is its own.
  const sends = !document.querySelector("form[data-card]");
  if ((await count()) && sends) (await import("./sending.js")).begin();
  const leaving = document.querySelector("form[action$='/sign-out']");
  if (leaving) (await import("./leaving.js")).guard(leaving, person);
}

begin().catch((error) => {
  link.hidden = false;
  link.textContent = t("This browser keeps nothing on this phone");
  throw error;
});
