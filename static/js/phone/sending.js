// Sends what waits: at once, when the network returns, when the page is looked at, and by a timer.
// Says on the page what stands in the way.

import { t } from "../words.js";
import { whose } from "./db.js";
import { make } from "./dom.js";
import { ofOthers } from "./others.js";
import { flush, pause, summary } from "./outbox.js";

const HOUR = 3600000;
const person = document.body.dataset.person ?? "";
let begun = false;
let timer = 0;
let tries = 0;

const places = () => document.querySelector("[data-notices]");

function show(kind, words, bad = false, ...more) {
  const shown = places();
  if (!shown) return;
  shown.querySelector(`[data-notice="${kind}"]`)?.remove();
  shown.hidden = !words && !shown.childElementCount;
  if (!words) return;
  const attributes = { class: bad ? "summary" : "flash", role: bad ? "alert" : "status", "data-notice": kind };
  shown.append(make("p", attributes, words, ...more));
  shown.hidden = false;
}

const link = (words, address) => make("a", { href: address }, words);

const asks = {
  "sign-in": () => [
    t("Cards wait on this phone. Sign in again to send them: nothing typed is lost. "),
    link(t("Sign in"), `/sign-in?next=${encodeURIComponent(location.pathname)}`),
  ],
  unlock: () => [
    t("Cards wait on this phone, sealed. Type your secret to send them. "),
    link(t("Open this phone"), "/phone#unlock"),
  ],
};

async function tell(told) {
  const { count, others, oldest, stuck } = await summary(await whose());
  const asking = count || (!person && others);
  const [words, ...more] = (asking && asks[told.asks]?.()) || [];
  show("asks", words, false, ...more);
  show("others", others && person ? ofOthers(others) : "");
  show("stuck", stuck ? t("{n} could not be taken by the school: ", { n: stuck }) : "", true, link(t("decide what becomes of it"), "/phone#waiting"));
  const age = oldest === null ? 0 : Date.now() - oldest;
  const days = Math.floor(age / (24 * HOUR));
  if (age >= 72 * HOUR) show("age", t("Words have been waiting on this phone for {n} days. A phone can be lost or cleared: send them now, or save them to a file. ", { n: days }), true, link(t("What waits"), "/phone#waiting"));
  else if (age >= 24 * HOUR) show("age", t("Words have been waiting on this phone for a day. "), false, link(t("What waits"), "/phone#waiting"));
  else show("age", "");
  return count + others;
}

async function send(eager) {
  clearTimeout(timer);
  const told = await flush(eager);
  const left = await tell(told);
  if (told.sent) await (await import("./witness.js")).begin();
  tries = told.sent ? 0 : tries + 1;
  if (left && !told.asks) timer = setTimeout(send, pause(Math.min(tries, 8)), false);
  return told;
}

/** Begin to send; once a page. */
export function begin() {
  if (begun) return;
  begun = true;
  addEventListener("online", () => send(true));
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") send(true);
  });
  addEventListener("windtee-outbox", ({ detail }) => tell(detail));
  return send(true);
}

/** Send now, whatever the timer says: what became of it. */
export const now = () => send(true);
