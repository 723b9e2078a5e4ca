// What must hold before a card can be signed: problems for people, each at its field.

import { t } from "../words.js";
import { readDay } from "./days.js";
import { parseReading } from "./readings.js";
import { accepts, aircraftOf, entryOf, errorOf, meets, rank, scaleOf, taskOf } from "./setting.js";
import { lengthOf, strip } from "./text.js";
import { flight, times } from "./times.js";

const LONGEST_REMARK = 2000;
const LONGEST_IDENT = 20;

/** Everything on the card that cannot stand, whether or not it is finished. */
export const check = (card, setting) => [
  ...checkDay(card, setting),
  ...card.entries.flatMap((entry) => [...checkEntry(entry, setting)]),
  ...checkReadings(card, setting),
  ...times(card).problems,
  ...checkChoices(card, setting),
];

/** What is still missing before the card can be signed. */
export const missing = (card, setting) => [
  ...missingHeading(card, setting),
  ...missingTimes(times(card).times, setting),
  ...missingGrades(card, setting),
  ...missingWords(card, setting),
];

function* checkDay(card, setting) {
  if (!card.flown_on) return;
  const day = readDay(card.flown_on);
  const tell = (words) => ({ field: "flown_on", words });
  if (day === null) yield tell(t("Type the date as year-month-day, such as 2026-05-31."));
  else if (day > setting.today) yield tell(t("{day} is in the future.", { day }));
  else if (day < setting.enrolled_on) {
    const { enrolled_on: enrolled } = setting;
    yield tell(t("The student enrolled on {enrolled}, after this date.", { enrolled }));
  }
}

function* checkEntry(entry, setting) {
  const task = taskOf(setting, entry.task);
  if (!task) {
    yield { field: "", words: t("{task} is not a task of this lesson.", { task: entry.task }) };
    return;
  }
  const scale = scaleOf(setting, task);
  const named = { task: task.title, level: entry.level, scale: scale.title };
  if (entry.level && !accepts(scale, entry.level)) {
    const words = t("{task}: {level} is not a level of the scale {scale}.", named);
    yield { field: `level-${task.code}`, words };
  }
  if (lengthOf(entry.remark) > LONGEST_REMARK) {
    const most = { task: task.title, most: LONGEST_REMARK };
    const words = t("{task}: keep the remark under {most} characters.", most);
    yield { field: `remark-${task.code}`, words };
  }
  for (const code of entry.errors.filter((one) => !errorOf(setting, task, one))) {
    const words = t("{task}: no error {code} in this task.", { task: task.title, code });
    yield { field: `errors-${task.code}`, words };
  }
}

function* checkReadings(card, setting) {
  const aircraft = aircraftOf(card, setting);
  if (!aircraft) return;
  for (const [code, typed] of Object.entries(card.readings)) {
    if (!strip(typed)) continue;
    const named = (one) => one.code === code;
    const reading = aircraft.readings.find(named);
    if (!reading && setting.aircraft.some((kind) => kind.readings.some(named))) continue;
    const { words } = reading ? parseReading(typed, reading.unit) : {};
    const field = `reading-${code}`;
    if (!reading) yield { field, words: t("{code} is not read on this aircraft type.", { code }) };
    else if (words) yield { field, words: `${reading.words}: ${words}` };
  }
}

function* checkChoices(card, setting) {
  if (card.aircraft && !aircraftOf(card, setting))
    yield { field: "aircraft", words: t("Choose an aircraft type of this course.") };
  if (card.outcome && !setting.lesson.outcomes.includes(card.outcome))
    yield { field: "outcome", words: t("Choose one of the outcomes shown.") };
  if (card.next_lesson && !setting.lessons.some((one) => one.code === card.next_lesson))
    yield { field: "next_lesson", words: t("Choose a lesson of this course.") };
  const most = { most: LONGEST_REMARK };
  if (lengthOf(card.remarks) > LONGEST_REMARK)
    yield { field: "remarks", words: t("Keep the remarks under {most} characters.", most) };
  if (lengthOf(card.ident) > LONGEST_IDENT)
    yield { field: "ident", words: t("Keep the registration under 20 characters.") };
}

function* missingHeading(card, setting) {
  const { flies } = setting.lesson;
  if (!card.flown_on) yield { field: "flown_on", words: t("Enter the date of the lesson.") };
  if (!card.outcome) yield { field: "outcome", words: t("Choose the outcome of the lesson.") };
  if (flies && !card.aircraft) yield { field: "aircraft", words: t("Choose the aircraft type.") };
  if (flies && !strip(card.ident))
    yield { field: "ident", words: t("Enter the aircraft's registration.") };
}

function* missingTimes(read, setting) {
  const { flies, kind } = setting.lesson;
  const field = kind === "solo" ? "times-solo" : "times-dual";
  if (flies && !flight(read) && !read.device) yield { field, words: t("Enter the flight time.") };
  if (!flies && !read.ground) yield { field: "times-ground", words: t("Enter the ground time.") };
}

function* missingGrades(card, setting) {
  const isCounted = (task) => rank(scaleOf(setting, task), entryOf(card, task.code).level) !== null;
  if (!setting.tasks.some(isCounted)) yield { field: "", words: t("Grade at least one task.") };
}

function* missingWords(card, setting) {
  for (const task of setting.tasks) {
    const entry = entryOf(card, task.code);
    const isBelow = meets(scaleOf(setting, task), entry.level, task.target) === false;
    if (!isBelow || entry.errors.length || strip(entry.remark)) continue;
    const named = { task: task.title };
    const why = t("{task} is below standard: mark an error or say why in a remark.", named);
    yield { field: `remark-${task.code}`, words: why };
  }
}
