// The grading card from the server: saves at every tap; without this script the Save button does
// the same. What the server has not confirmed is kept on this phone and sent again.

import { Desk, isRechosen } from "./card/desk.js";
import * as db from "./phone/db.js";
import * as drafts from "./phone/drafts.js";
import * as letters from "./phone/letters.js";
import * as vault from "./phone/vault.js";
import { t } from "./words.js";

function fields(form) {
  const data = new FormData(form);
  data.set("do", "save");
  return new URLSearchParams(data);
}

/** One try to save by the form's own address. */
async function save(form) {
  try {
    const headers = { Accept: "application/json" };
    const answer = await fetch(form.action, { method: "POST", body: fields(form), headers });
    const told = await answer.json().catch(() => ({}));
    if (answer.ok) return { kind: "saved", ...told };
    if (answer.status === 502 || answer.status === 504) return { kind: "away" };
    if (answer.status === 503) return { kind: "busy", words: t("The school is busy: it is sent in a moment, by itself.") };
    const kind = answer.status === 409 ? "conflict" : "refused";
    const problems = answer.status === 422 ? (told.problems ?? []) : null;
    return { ...told, kind, status: answer.status, words: told.error, problems };
  } catch {
    return { kind: "away" };
  }
}

/** Where a button leads once the card is saved, or is kept for want of a network. */
async function leave(form, desk, button) {
  const wanted = button?.value ?? "save";
  if (wanted === "rest") {
    desk.rest();
    return;
  }
  const told = await desk.send();
  const gone = told.kind === "away";
  const kept = gone || told.kind === "saved";
  if (kept && ["review", "flow"].includes(wanted)) location.assign(`${form.action}/${wanted}`);
  // A school that is busy is asked again by the desk, and the page says so meanwhile.
  else if (!gone && told.kind !== "busy" && !(kept && wanted === "save")) desk.pass(button);
}

/** Words of this phone that are based on an older version than the page: told apart, not mixed. */
async function parted(draft, desk) {
  await letters.post(draft, draft.words);
  const told = await flush();
  if (told.sent) location.reload();
  else desk.say(t("This phone holds words that were not saved; the card was saved elsewhere meanwhile"));
}

/** This page is older than what another page of ours has sent meanwhile: once, fetch it anew. */
function older() {
  const seen = `windtee-older-${location.pathname}`;
  if (sessionStorage.getItem(seen)) return;
  sessionStorage.setItem(seen, "yes");
  location.reload();
}

/** Send what waits, by scripts that are fetched when something does; without them nobody can. */
const flush = () => import("./phone/outbox.js").then((outbox) => outbox.flush(true), () => ({ away: true }));

/** Take part in sending as soon as something waits on this phone; looked for again and again. */
function takePart() {
  const look = async () => {
    // When it cannot be fetched what waits stays, and is looked for at the next of these moments.
    if ((await db.waiting()).length) await import("./phone/sending.js").then((sending) => sending.begin(), () => {});
  };
  for (const moment of ["online", "windtee-outbox"]) addEventListener(moment, look);
  document.addEventListener("visibilitychange", look);
  return look();
}

/** A card that is begun here goes along too: it opens again where there is no network. */
async function takeAlong(form, person, record) {
  if (!(await vault.opened(person))) return;
  if (!(await db.get("cards", [person, record]))) {
    const pocket = await import("./phone/pocket.js");
    await pocket.take(person);
  }
  form.dataset.along = "";
}

/** Another aircraft type has other readings, also when it was chosen before this script came. */
async function followAircraft(form, desk, begun) {
  const { aircraft } = form.elements;
  // Heard after the desk, whose change this sends at once: once, not again by its timer.
  form.addEventListener("change", async ({ target }) => {
    if (target === aircraft && (await desk.send()).kind === "saved") location.reload();
  });
  await begun;
  if (aircraft?.options && isRechosen(aircraft)) aircraft.dispatchEvent(new Event("change", { bubbles: true }));
}

/** Follow the card from now on; what was done on it before this script had come counts too. */
async function begin(form) {
  const { card: record, enrolment, lesson, title } = form.dataset;
  const person = document.body.dataset.person ?? "";
  const waiting = await letters.of(person, record).catch(() => []);
  if (waiting.length && (await flush()).sent) return location.reload();
  const theirs = document.querySelector("[data-take-theirs]");
  theirs?.addEventListener("click", () => drafts.forget(person, record));
  const way = {
    person, record, enrolment, lesson, title,
    before: {},
    decides: Boolean(theirs),
    draft: () => drafts.find(person, record),
    save: () => save(form),
    leave: (desk, button) => leave(form, desk, button),
    parted,
    older,
  };
  const desk = new Desk(form, way);
  const begun = desk.begin();
  await followAircraft(form, desk, begun);
  await takePart();
  // Without an answer it is taken along the next time that it is opened.
  await takeAlong(form, person, record).catch(() => {});
}

const form = document.querySelector("form[data-card]");
if (form) begin(form);
