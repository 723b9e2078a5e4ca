// What this phone can do, and what to do where it cannot.

import { t } from "../words.js";
import * as db from "./db.js";
import { make } from "./dom.js";
import { token } from "./outbox.js";
import { day } from "./times.js";
import * as vault from "./vault.js";

const FAR_OFF = 5 * 60000;
const MIB = 1024 * 1024;
const PATIENCE = 1500;

const found = (title, good, words, ...todo) => ({ title, good, words, todo });
const link = (words, address) => make("a", { href: address }, words);

function secure() {
  if (globalThis.isSecureContext) return found(t("Connection"), true, t("protected (https, or this machine itself)"));
  return found(t("Connection"), false,
    t("plain http: browsers lend no worker, no keys and no sealing here"),
    t("Ask whoever runs the school's server to serve it by https; its README says how. Until then what you type is kept on this phone unsealed, and it cannot be opened or signed without a network."));
}

/** `again` is called once the worker is there: a browser may install it while this is read. */
async function worker(again) {
  const title = t("Opens without a network");
  if (!("serviceWorker" in navigator)) return found(title, false, t("not with this browser or this connection"));
  const registration = await navigator.serviceWorker.getRegistration();
  if (registration?.active) return found(title, true, t("yes"));
  navigator.serviceWorker.ready.then(again);
  return found(title, false, t("not yet"), t("Reload this page once while there is a network."));
}

async function storage() {
  const title = t("Room");
  if (!navigator.storage?.estimate) return found(title, null, t("this browser does not say"));
  const { quota = 0, usage = 0 } = await navigator.storage.estimate();
  const free = Math.floor((quota - usage) / MIB);
  return found(title, free >= 20, t("{n} MiB free for Windtee", { n: free }),
    free >= 20 ? null : t("Make room on this phone: words that find none stay on the screen only."));
}

async function lasting() {
  const title = t("Kept for good");
  if (!navigator.storage?.persist) return found(title, null, t("this browser does not say"));
  const asked = navigator.storage.persist(); // some browsers ask their user, who may not answer
  const unanswered = new Promise((resolve) => setTimeout(resolve, PATIENCE, false));
  const kept = (await navigator.storage.persisted()) || (await Promise.race([asked, unanswered]));
  if (kept) return found(title, true, t("yes"));
  return found(title, null, t("the browser may clear what is here when room is short, some after 7 days without use"),
    t("Put Windtee on the home screen (browser menu, Install or Add to home screen), and send what waits soon."));
}

function installed() {
  const app = matchMedia("(display-mode: standalone)").matches || navigator.standalone === true;
  return found(t("On the home screen"), app || null, app ? t("yes, opened from there") : t("opened in the browser"),
    app ? null : t("From the home screen it opens like any app, and some phones keep its data longer."));
}

async function signs() {
  const title = t("Signatures");
  if (await vault.canSign()) return found(title, true, t("this browser makes the kind the ledger takes (Ed25519)"));
  return found(title, false, t("this browser cannot sign (no Ed25519)"),
    t("Update it, or use another one. Cards are kept all the same, and signed with a network."));
}

async function clock(said) {
  const title = t("Clock");
  if (said === null) return found(title, null, t("not compared: no network"));
  const off = Math.round(said / 1000);
  const good = Math.abs(said) <= FAR_OFF;
  return found(title, good, good ? t("right within {n} s", { n: Math.max(1, Math.abs(off)) }) : t("{n} minutes off", { n: Math.round(Math.abs(off) / 60) }),
    good ? null : t("Let the phone set its clock by itself. The record keeps both times; nothing is refused for it."));
}

/** How far this phone's clock is ahead of the server's, in ms; null without a network. */
async function skew() {
  try {
    const sent = Date.now();
    const answer = await fetch("/manifest.webmanifest", { method: "HEAD", cache: "no-store" });
    const date = Date.parse(answer.headers.get("Date") ?? "");
    return Number.isNaN(date) ? null : (sent + Date.now()) / 2 - date - 500;
  } catch {
    return null;
  }
}

async function setUp(person) {
  const title = t("Set up for signing");
  const mine = await vault.find(person);
  if (mine?.revoked) {
    return found(title, false, t("the school no longer takes this phone's key"),
      t("Words on it stay readable. Set it up anew to sign here again."), link(t("Phones that sign"), "/account/phones"));
  }
  if (mine) return found(title, true, t("as {name}, since {day}", { name: mine.name, day: day(mine.made_at) }));
  return found(title, null, t("no"), t("Whoever grades lessons can set it up, once."), link(t("Phones that sign"), "/account/phones"));
}

async function signedIn(access) {
  const title = t("Signed in");
  if (access.away) return found(title, null, t("not known: no network"));
  if (access.asks) return found(title, null, t("no"), link(t("Sign in"), "/sign-in?next=/phone"));
  return found(title, true, t("as {name}", { name: access.person.name }));
}

function line({ title, good, words, todo }) {
  const kind = good === null ? "unknown" : good ? "met" : "missing";
  return make("div", { "data-check": title },
    make("dt", {}, title),
    make("dd", {}, make("span", { class: `verdict verdict-${kind}` }, words),
      ...todo.filter(Boolean).map((one) => make("p", { class: "small dim" }, one))));
}

/** Fill `place` with every check. */
export async function show(place, person) {
  const [access, ahead] = await Promise.all([token(), skew()]);
  const checks = await Promise.all([
    secure(), worker(() => show(place, person)), signs(), setUp(person), signedIn(access), storage(), lasting(), installed(), clock(ahead),
  ]);
  const bad = checks.filter((one) => one.good === false).length;
  place.replaceChildren(
    make("h2", {}, bad ? t("{n} to put right", { n: bad }) : t("This phone can grade without a network")),
    make("dl", { class: "ruled checks" }, checks.map(line)),
  );
  place.hidden = false;
}
