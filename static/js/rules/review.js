// Everything the review shows of a card before it is signed.

import { t } from "../words.js";
import { check, missing } from "./check.js";
import { readDay } from "./days.js";
import { gauges } from "./gauges.js";
import { heldTo } from "./limits.js";
import { marksOf, proposal, standing } from "./outcome.js";
import { aircraftOf, entryOf, scaleOf, taskOf, wordsFor } from "./setting.js";
import { strip } from "./text.js";
import { flight, hours, times } from "./times.js";

/** What stands in the way, what will be signed, what it leaves open; words for people. */
export function review(card, setting) {
  const proposed = proposal(card, setting);
  const stands = setting.tasks.map((task) => ({ task, meets: standing(card, setting, task) }));
  const [below, unseen] = [false, null].map((wanted) =>
    stands.filter((one) => one.meets === wanted).map((one) => one.task));
  const { results, proposed: marks } = gauges(card, setting);
  return {
    problems: [...check(card, setting), ...missing(card, setting)],
    flown_on: readDay(card.flown_on),
    outcome: card.outcome,
    proposed,
    facts: facts(card, setting, { proposed, unseen }),
    below: below.map((task) => belowTarget(card, setting, task)),
    marks: marksOf(card, setting).map(({ task, error }) => markWords(task, error.words, error)),
    unconfirmed: unconfirmed(card, setting, marks),
    readings: taken(card, setting, results),
    carried: [...below, ...unseen].map((task) => task.title),
    remarks: card.remarks,
  };
}

function facts(card, setting, { proposed, unseen }) {
  const read = times(card).times;
  const style = setting.hours_style;
  return {
    graded: setting.tasks.length - unseen.length,
    tasks: setting.tasks.length,
    aircraft: setting.lesson.flies ? aircraftWords(card, setting) : null,
    flight: hours(flight(read), style),
    ground: hours(read.ground, style),
    landings: read.day_landings + read.night_landings,
    next_lesson: nextLesson(card, setting, proposed),
  };
}

const aircraftWords = (card, setting) =>
  [aircraftOf(card, setting)?.name ?? "", card.ident].filter(Boolean).join(" ");

function nextLesson(card, setting, proposed) {
  const chosen = setting.lessons.find((one) => one.code === card.next_lesson);
  if (chosen) return chosen.title;
  const here = setting.lessons.findIndex((one) => one.code === setting.lesson.code);
  if (!["complete", "passed"].includes(card.outcome || proposed.outcome))
    return t("{lesson}, again", { lesson: setting.lesson.title });
  return setting.lessons[here + 1]?.title ?? t("end of the course");
}

function belowTarget(card, setting, task) {
  const [entry, scale] = [entryOf(card, task.code), scaleOf(setting, task)];
  const target = wordsFor(scale, task.target || scale.standard);
  const level = wordsFor(scale, entry.level);
  return { task: task.code, title: task.title, level, target, remark: entry.remark };
}

const markWords = (task, words, { severity }) =>
  ({ task: task.code, title: task.title, words, severity });

const unconfirmed = (card, setting, marks) =>
  marks
    .filter((mark) => !entryOf(card, mark.task).errors.includes(mark.error))
    .map((mark) => markWords(taskOf(setting, mark.task), mark.why, mark));

/** The readings typed in that belong to tasks of the card, those outside a limit first. */
function taken(card, setting, results) {
  const aircraft = aircraftOf(card, setting);
  const found = aircraft && setting.lesson.flies ? aircraft.readings : [];
  const asked = found.filter((one) => taskOf(setting, one.task));
  const given = Object.keys(card.readings).filter((code) => strip(card.readings[code]));
  const rows = asked.map((one) => ({
    ...readingRow(one, ownText(card.readings, one.code), results),
    held_to: heldTo(aircraft, one, given),
  }));
  const typed = rows.filter((row) => strip(row.typed));
  return [...typed.filter((row) => row.met === false), ...typed.filter((row) => row.met !== false)];
}

const ownText = (texts, name) => (Object.hasOwn(texts, name) ? texts[name] : "");

function readingRow({ code, words, unit }, typed, results) {
  const judged = results.filter((result) => result.readings.includes(code));
  const met = judged.length ? judged.every((result) => result.met) : null;
  return { code, words, typed, unit: unit === "yes-no" ? "" : unit, met };
}
