// Moments and ages in words, on the school's clock.

import { t } from "../words.js";

const MINUTE = 60000;
const HOUR = 60 * MINUTE;

const lang = () => document.documentElement.lang.replace(/^(en)?$/, "en-GB");

/** "17:02", or "3 Nov, 17:02" when it was not today. */
export function clock(moment, zone) {
  const at = new Date(moment);
  const said = (options) => new Intl.DateTimeFormat(lang(), { timeZone: zone, ...options }).format(at);
  const time = said({ hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const day = { day: "numeric", month: "short" };
  const today = new Intl.DateTimeFormat(lang(), { timeZone: zone, ...day }).format(new Date());
  return said(day) === today ? time : `${said(day)}, ${time}`;
}

/** "3 Nov 2026", of a date or of a moment. */
export function day(moment) {
  const how = { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" };
  return new Intl.DateTimeFormat(lang(), how).format(new Date(moment));
}

/** "3 minutes old"; hours and days when it is older. */
export function age(moment, now = Date.now()) {
  const passed = Math.max(0, now - moment);
  if (passed < MINUTE) return t("just now");
  if (passed < HOUR) return t("{n} min old", { n: Math.floor(passed / MINUTE) });
  if (passed < 48 * HOUR) return t("{n} h old", { n: Math.floor(passed / HOUR) });
  return t("{n} days old", { n: Math.floor(passed / (24 * HOUR)) });
}

/** How worrying an age is: fresh within half a day, old after it, stale after three. */
export function worry(moment, now = Date.now()) {
  const hours = (now - moment) / HOUR;
  if (hours < 12) return "fresh";
  return hours < 72 ? "old" : "stale";
}
