// A card from the pocket: the same form and the same desk as with a network, judged here.

import { Desk } from "../card/desk.js";
import { fillCard } from "../card/fields.js";
import * as spine from "../card/spine.js";
import { check, gauges, hours, schoolDay, times } from "../rules.js";
import { t } from "../words.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { layChips } from "./chips.js";
import { announce, flush } from "./outbox.js";
import { layReadings } from "./readings.js";
import { layStations } from "./stations.js";
import { clock } from "./times.js";
import { LockedError } from "./vault.js";

/** What the card is judged against, on the day it is judged. */
export const settingOf = (card) => ({ ...card.setting, today: schoolDay(card.setting.zone) });

/** The form as the school made it, brought up to what was signed here since. */
export function form(card) {
  const made = document.adoptNode(parsed(card));
  if (card.after) layStations(made, card.setting, card.others.map(parsed));
  return made;
}

const parsed = ({ html }) =>
  new DOMParser().parseFromString(html, "text/html").querySelector("form[data-card]");

function total(card, style) {
  const read = times(card).times;
  const said = (minutes) => hours(minutes, style);
  return t("In the aircraft {flight} h (dual {dual}, solo {solo}); ground {ground} h.", {
    flight: said(read.dual + read.solo), dual: said(read.dual), solo: said(read.solo), ground: said(read.ground),
  });
}

/** What the school would say of the card, said here. */
function judged(card, pocketed) {
  const setting = settingOf(pocketed);
  return {
    problems: check(card, setting),
    verdicts: gauges(card, setting).results,
    total: total(card, setting.hours_style),
  };
}

/** Post the draft and try to send it; what came of it, with what this phone makes of the card. */
async function save(person, pocketed, card) {
  const said = judged(card, pocketed);
  if (!navigator.onLine) return { kind: "away", ...said };
  try {
    const draft = await drafts.find(person, pocketed.record);
    if (draft?.dirty && draft.words) await letters.post(draft, draft.words);
    const told = await flush(true);
    const left = await letters.of(person, pocketed.record);
    if (!left.length) return { kind: "saved", words: t("Saved {time}", { time: clock(Date.now(), pocketed.setting.zone) }), ...said };
    if (left.some((one) => one.state !== "waiting")) return { kind: "refused", words: t("Not taken by the school: see This phone"), ...said };
    return { kind: "away", ...said, asks: told.asks };
  } catch (error) {
    if (error instanceof LockedError) return { kind: "away", ...said };
    throw error;
  }
}

async function leave(desk, button, { toReview, toFlow }) {
  const wanted = button?.value ?? "save";
  if (wanted === "rest") {
    desk.rest();
    return;
  }
  if (wanted === "flow") {
    await toFlow();
  } else if (wanted === "review") {
    await toReview();
  } else {
    await desk.send();
  }
}

/**
 * The draft of a card and its newest words here: those typed last, those under way, those that
 * this phone brought to the school, or as they were taken along.
 */
export async function newest(person, pocketed) {
  const { record, enrolment, setting } = pocketed;
  const kept = await drafts.find(person, record);
  const version = Math.max(pocketed.version, kept?.version ?? 0);
  const isNewest = kept?.words && (kept.dirty || kept.version >= pocketed.version);
  const own = isNewest ? kept.words.card : undefined;
  const card = (kept?.dirty ? own : ((await posted(person, record)) ?? own)) ?? pocketed.card;
  const base = { person, record, enrolment, lesson: setting.lesson.code };
  return { draft: { changed_at: Date.now(), ...kept, ...base, version }, card };
}

/** Follow the choice of an aircraft type: its readings in place of those of the one before. */
function followAircraft(made, desk, pocketed) {
  made.elements.aircraft?.addEventListener("change", () => {
    const card = desk.read();
    desk.way.before = { ...desk.way.before, readings: card.readings };
    layReadings(made, settingOf(pocketed), card);
    desk.show(judged(card, pocketed));
  });
}

/** Lay what was typed over the form and follow every change of it; the desk that does. */
export async function begin(made, person, pocketed, ways) {
  const { record, enrolment, student, setting } = pocketed;
  const { draft, card: typed } = await newest(person, pocketed);
  layChips(made, settingOf(pocketed), typed);
  layReadings(made, settingOf(pocketed), typed);
  fillCard(made, typed);
  made.elements.version.value = String(draft.version);
  const way = {
    person, record, enrolment,
    lesson: setting.lesson.code,
    title: `${student.name}, ${setting.lesson.code.toUpperCase()}`,
    before: typed,
    draft: async () => undefined,
    kept: announce,
    save: (card) => save(person, pocketed, card),
    leave: (desk, button) => leave(desk, button, ways),
  };
  const desk = new Desk(made, way);
  desk.kept = draft.dirty ? draft.changed_at : 0;
  if (draft.words) desk.tried = drafts.triedOf(draft.words);
  desk.step = (steps) => {
    way.before = { ...way.before, steps };
    desk.changed();
  };
  spine.begin(made);
  await desk.begin();
  desk.show(judged(typed, pocketed));
  followAircraft(made, desk, pocketed);
  if (!desk.unkept) desk.say(draft.dirty ? t("On this phone only") : t("From the pocket"));
  if (draft.dirty) desk.send();
  announce();
  return desk;
}

/** Show on the form what a flow run has changed. */
export function refresh(made, desk, pocketed) {
  const card = desk.read();
  layChips(made, settingOf(pocketed), card);
  desk.show(judged(card, pocketed));
}

/** The newest card of this record in the outbox. */
async function posted(person, record) {
  const [last] = (await letters.of(person, record)).slice(-1);
  return last && JSON.parse((await letters.read(last)).words.body).card;
}
