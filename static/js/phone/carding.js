// A card from the pocket: the same form and the same desk as with a network, judged here.

import { Desk } from "../card/desk.js";
import { fillCard } from "../card/fields.js";
import { check, gauges, hours, schoolDay, times } from "../rules.js";
import { t } from "../words.js";
import * as drafts from "./drafts.js";
import * as letters from "./letters.js";
import { announce, flush } from "./outbox.js";
import { clock } from "./times.js";
import { LockedError } from "./vault.js";

/** What the card is judged against, on the day it is judged. */
export const settingOf = (card) => ({ ...card.setting, today: schoolDay(card.setting.zone) });

/** The form as the school made it. */
export function form(card) {
  const page = new DOMParser().parseFromString(card.html, "text/html");
  return document.adoptNode(page.querySelector("form[data-card]"));
}

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

async function leave(desk, button, toReview) {
  const wanted = button?.value ?? "save";
  if (wanted === "rest") {
    desk.rest();
    return;
  }
  if (wanted === "flow") {
    desk.say(t("The flow run needs a network"));
  } else if (wanted === "review") {
    await toReview();
  } else {
    await desk.send();
  }
}

/** Lay what was typed over the form and follow every change of it. */
export async function begin(made, person, pocketed, toReview) {
  const { record, enrolment, student, setting } = pocketed;
  const draft = await drafts.find(person, record);
  const typed = draft?.words?.card ?? (await posted(person, record)) ?? pocketed.card;
  fillCard(made, typed);
  made.elements.version.value = String(Math.max(pocketed.version, draft?.version ?? 0));
  const way = {
    person, record, enrolment,
    lesson: setting.lesson.code,
    title: `${student.name}, ${setting.lesson.code.toUpperCase()}`,
    before: typed,
    draft: async () => undefined,
    kept: announce,
    save: (card) => save(person, pocketed, card),
    leave: (desk, button) => leave(desk, button, toReview),
  };
  const desk = new Desk(made, way);
  desk.kept = draft?.dirty ? draft.changed_at : 0;
  await desk.begin();
  desk.show(judged(typed, pocketed));
  desk.say(draft?.dirty ? t("On this phone only") : t("From the pocket"));
  if (draft?.dirty) desk.send();
  announce();
}

/** The newest card of this record in the outbox. */
async function posted(person, record) {
  const [last] = (await letters.of(person, record)).slice(-1);
  return last && JSON.parse((await letters.read(last)).words.body).card;
}
