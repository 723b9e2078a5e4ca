// Times and counts of a lesson as people type them, read into minutes, counts and miles.

import { figure, t } from "../words.js";
import { strip } from "./text.js";

const DAY_MINUTES = 24 * 60;
const MOST_LANDINGS = 200;
const FARTHEST_NM = 2000;
const PARTS_OF_FLIGHT = ["pic", "night", "instrument", "cross_country"];
const LINES = [
  ["dual", t("Dual received"), readMinutes],
  ["solo", t("Solo"), readMinutes],
  ["ground", t("Ground training"), readMinutes],
  ["pic", t("Pilot in command"), readMinutes],
  ["night", t("Night"), readMinutes],
  ["instrument", t("Instrument reference"), readMinutes],
  ["cross_country", t("Cross-country"), readMinutes],
  ["device", t("Training device"), readMinutes],
  ["day_landings", t("Day landings"), readCount],
  ["night_landings", t("Night landings, full stop"), readCount],
  ["tower_landings", t("Landings at a towered field"), readCount],
  ["distance_nm", t("Cross-country distance"), readMiles],
  ["longest_leg_nm", t("Longest leg"), readMiles],
  ["landing_points", t("Landing points"), readCount],
  ["test_preparation", t("Practical-test preparation"), () => ({ value: true })],
];

/** Minutes of `1.2` (decimal hours) or `1:12`. */
function readMinutes(typed) {
  const [, hours, minutes] = /^([0-9]{1,2}):([0-5][0-9])$/.exec(typed) ?? [];
  const [, whole, part = ""] = /^([0-9]{1,2})(?:[.,]([0-9]{1,2}))?$/.exec(typed) ?? [];
  if (!hours && !whole) return { words: t("Type hours as 1.2 or 1:12.") };
  const hundredths = Number(whole + part.padEnd(2, "0"));
  const value = hours ? Number(hours) * 60 + Number(minutes) : Math.round((hundredths * 6) / 10);
  return value > DAY_MINUTES ? { words: t("A day has 24 hours.") } : { value };
}

function readCount(typed) {
  if (/^[0-9]{1,3}$/.test(typed) && Number(typed) <= MOST_LANDINGS) return { value: Number(typed) };
  return { words: t("Type a whole number from 0 to {most}.", { most: MOST_LANDINGS }) };
}

function readMiles(typed) {
  const number = typed.replaceAll(",", ".");
  const isRead = /^[0-9]{1,4}(\.[0-9])?$/.test(number) && Number(number) <= FARTHEST_NM;
  if (isRead) return { value: Number(number) };
  return { words: t("Type nautical miles, such as 52 or 52.5.") };
}

/** The times typed, what cannot be read counting as nothing, and what is wrong with them. */
export function times(card) {
  const read = Object.fromEntries(LINES.map(([field]) => [field, 0]));
  const problems = [];
  for (const [field, line, reader] of LINES) {
    const typed = strip(card.times[field] ?? "");
    const { value, words } = typed ? reader(typed) : { value: 0 };
    if (words) problems.push({ field: `times-${field}`, words: `${line}: ${words}` });
    else read[field] = value;
  }
  read.test_preparation = Boolean(read.test_preparation);
  return { times: read, problems: [...problems, ...impossible(read)] };
}

/** Minutes in the aircraft: dual plus solo (the rest are parts of them). */
export const flight = (read) => read.dual + read.solo;

/** Times that cannot be: more than a day, or a part longer than the whole flight. */
function impossible(read) {
  const problems = [];
  const tell = (name, words) => problems.push({ field: `times-${name}`, words });
  if (flight(read) + read.ground > DAY_MINUTES)
    tell("dual", t("Together these are more than 24 hours."));
  for (const [field, line] of LINES)
    if (PARTS_OF_FLIGHT.includes(field) && read[field] > flight(read))
      tell(field, t("{part} is longer than the whole flight (dual and solo).", { part: line }));
  if (read.longest_leg_nm > read.distance_nm)
    tell("longest_leg_nm", t("The longest leg is longer than the whole flight."));
  return problems;
}

/** Minutes as decimal hours (`1.2`) or as `1:12`, also where they are not whole tenths. */
export function hours(minutes, style) {
  if (style !== "clock" && minutes % 6 === 0) return figure((minutes / 60).toFixed(1));
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
}
