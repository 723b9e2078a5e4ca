// Days as people type them, and the day it is at the school.

import { strip } from "./text.js";

const DAY = /^([0-9]{4})-([0-9]{2})-[0-9]{2}$/;

/** The day typed (ISO 8601), or null when it cannot be read. */
export function readDay(text) {
  const [day, year, month] = DAY.exec(strip(text)) ?? [];
  if (!day || year === "0000") return null;
  const made = new Date(`${day}T00:00:00Z`); // a day too many is the next month's, or none
  return made.getUTCMonth() + 1 === Number(month) ? day : null;
}

/** The calendar day (ISO 8601) in a time zone (IANA) at a moment. */
export function schoolDay(zone, moment = new Date()) {
  const style = { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" };
  const parts = new Intl.DateTimeFormat("en-u-ca-iso8601-nu-latn", style).formatToParts(moment);
  const { year, month, day } = Object.fromEntries(parts.map((part) => [part.type, part.value]));
  return `${year.padStart(4, "0")}-${month}-${day}`;
}
