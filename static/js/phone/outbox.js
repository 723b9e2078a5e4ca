// Brings letters to the school: one after another, each until it has an answer.
// Nothing here makes or loses words; what is not taken stays and says why.

import * as db from "./db.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { locked } from "./pages.js";
import * as vault from "./vault.js";
import { isAmong } from "../card/fields.js";

const SHORTEST = 4000;
const LONGEST = 15 * 60000;
const JSON_ONLY = { Accept: "application/json" };

/** Whether a try failed for want of a network. */
const away = () => ({ away: true });

/** Who is signed in, with a fresh token: csrf, person, nonce; or why not: away, asks. */
export async function token() {
  try {
    const answer = await fetch("/api/token", { headers: JSON_ONLY, cache: "no-store" });
    if (answer.status === 401) return { asks: "sign-in" };
    if (!answer.ok) return away();
    return await answer.json();
  } catch {
    return away();
  }
}

function send(letter, csrf) {
  return fetch(`/api/lessons/${letter.record}`, {
    method: "PUT",
    headers: {
      ...JSON_ONLY,
      "Content-Type": "application/json",
      "Idempotency-Key": letter.key,
      "If-Match": `"${letter.base}"`,
      "X-Age-Ms": String(Math.max(0, Date.now() - letter.made_at)),
      "X-Author": letter.person,
      "X-CSRFToken": csrf,
    },
    body: letter.words.body,
  });
}

const stale = (answer, told) => answer.status === 400 && told.reason !== "invalid";

/** One try with a letter; a token that has gone stale is fetched anew, once. */
async function attempt(letter, access) {
  const ask = async () => {
    const answer = await send(letter, access.csrf);
    return [answer, await answer.json().catch(() => ({}))];
  };
  const [answer, told] = await ask();
  if (!stale(answer, told)) return [answer, told];
  Object.assign(access, await token());
  return access.csrf ? ask() : [answer, told];
}

/** How long to wait before the next try: doubling, with jitter, never over a quarter of an hour. */
export function pause(tries, random = Math.random()) {
  return Math.min(LONGEST, SHORTEST * 2 ** Math.min(tries, 12)) * (0.5 + random / 2);
}

/** Note when to try again; whether the school asked for rest, which then holds for every letter. */
async function later(letter, answer) {
  const asked = Number(answer?.headers.get("Retry-After")) * 1000 || 0;
  const wait = Math.max(asked, pause(letter.tries));
  await letters.note(letter.key, { tries: letter.tries + 1, next_at: Date.now() + wait });
  if (asked) await db.put("facts", { name: "rest", until: Date.now() + Math.min(asked, LONGEST) });
  return asked > 0;
}

/** Whether the school has asked not to be sent anything yet. */
async function rests() {
  const left = ((await db.get("facts", "rest"))?.until ?? 0) - Date.now();
  return left > 0 && left <= LONGEST; // a clock that was set back ends it too
}

const isHeld = async (letter) =>
  Boolean(letter.after?.length) && (await import("./held.js")).isHeld(letter);

const REFUSALS = { 403: "refused", 404: "refused", 409: "changed", 412: "conflict", 413: "refused", 422: "refused" };

/** Whether the version that came between is one of ours, whose answer was lost on the way. */
const isOurs = ({ words: { tried } }, { differences, theirs }) =>
  !differences?.length || isAmong([tried ?? []].flat(), theirs);

/** What an answer makes of a letter; how many were sent, are stuck or wait; or what it asks for. */
async function judge(letter, answer, told) {
  if (answer.ok) {
    await letters.deliver(letter, told);
    return { sent: 1 };
  }
  if (answer.status === 401) return { asks: "sign-in" };
  if (told.reason === "author") return { asks: "sign-in" };
  if (told.reason === "phone-revoked" || told.reason === "phone-unknown") {
    await vault.mark(letter.person, true);
    await letters.refuse(letter, "quarantined", told);
    return { stuck: 1 };
  }
  if (answer.status === 412 && told.state === "draft" && isOurs(letter, told)) {
    await letters.note(letter.key, { base: told.version });
    return { again: true };
  }
  if (REFUSALS[answer.status]) {
    await letters.refuse(letter, REFUSALS[answer.status], told);
    return { stuck: 1 };
  }
  return { waits: 1, rests: await later(letter, answer) };
}

async function bring(letter, access) {
  try {
    const read = await letters.read(letter);
    await letters.note(letter.key, { tries: letter.tries + 1 });
    const [answer, told] = await attempt(read, access);
    const found = await judge(read, answer, told);
    if (!found.again) return found;
    return bring({ ...letter, base: told.version }, access);
  } catch (error) {
    if (error instanceof vault.LockedError) return { asks: "unlock" };
    if (!(error instanceof TypeError)) throw error;
    await later(letter);
    return away();
  }
}

/** Post the drafts whose page is closed; those on a page in sight are that page's own to send. */
async function gather(person) {
  for (const row of await drafts.dirty(person)) {
    await locked(`windtee-card-${row.record}`, async (held) => {
      if (!held) return;
      const draft = await drafts.read(row);
      if (draft.words) await letters.post(draft, draft.words);
    }, false);
  }
}

async function bringAll(person, access, eager) {
  const told = { sent: 0, stuck: 0, waits: 0 };
  const held = new Set();
  for (const listed of await letters.all(person)) {
    const [letter] = (await letters.of(person, listed.record)).filter((one) => one.key === listed.key);
    if (!letter || held.has(letter.record)) continue;
    const due = eager || letter.next_at <= Date.now();
    if (letter.base === null) continue; // the one before it, wherever a clock set back has put it, gives it its version
    if (letter.state !== "waiting" || !due || (await isHeld(letter))) {
      held.add(letter.record);
      continue;
    }
    const found = await bring(letter, access);
    if (found.asks || found.away || found.rests) return { ...told, ...found };
    if (!found.sent) held.add(letter.record);
    for (const name of Object.keys(told)) told[name] += found[name] ?? 0;
  }
  return told;
}

/**
 * Try to send all that waits of whoever is signed in. `eager` does not wait for the next due
 * time. Tells sent, stuck, waits, and away or asks ("sign-in", "unlock") when it could not go on.
 */
export async function flush(eager = false) {
  if (!(await db.waiting()).length) return {};
  const told = await locked("windtee-outbox", async () => {
    if (await rests()) return { rests: true };
    const access = await token();
    if (!access.csrf) return access;
    const { id } = access.person;
    try {
      await gather(id);
    } catch (error) {
      if (error instanceof vault.LockedError) return { asks: "unlock" };
      throw error;
    }
    return bringAll(id, access, eager);
  });
  announce(told);
  return told;
}

/** Tell every page of ours that the outbox has changed. */
export function announce(told = {}) {
  const news = new CustomEvent("windtee-outbox", { detail: told });
  globalThis.dispatchEvent(news);
  if (globalThis.BroadcastChannel) {
    const channel = new BroadcastChannel("windtee-outbox");
    channel.postMessage(told);
    channel.close();
  }
}

/** What waits: records of `person`, the oldest moment, what needs a decision, what is others'. */
export async function summary(person) {
  const rows = await db.waiting();
  const mine = rows.filter((row) => row.person === person);
  const records = new Set(mine.map((row) => row.record));
  const others = new Set(rows.filter((row) => row.person !== person).map((row) => row.record));
  return {
    count: records.size,
    others: others.size,
    oldest: mine.length ? Math.min(...mine.map((row) => row.since ?? row.made_at)) : null,
    stuck: mine.filter((row) => row.state && row.state !== "waiting").length,
  };
}
