// Readings against an aircraft's limits, with the arithmetic done.

import { t } from "../words.js";
import { absolute, compare, decimal, decimalOf, minus, plain } from "./decimals.js";
import { wordsOf } from "./text.js";

const NUMBER = /^([-+\u2212]?)([0-9]*)(?:([.,])([0-9]+))? *(.*)$/su;
const MOST_DIGITS = 12;
const SPELLINGS = new Map([
  ["degc", ["\u00b0c", "c", "deg c", "\u00ba c", "\u00b0 c"]],
  ["deg", ["\u00b0", "degrees"]],
  ["percent", ["%"]],
  ["s", ["sec", "seconds"]],
  ["min", ["minutes"]],
  ["volt", ["v", "volts"]],
  ["inhg", ["in hg", "in", '"']],
]);
const SHORT = new Map([["y", "yes"], ["n", "no"]]);
const UNITLESS = ["count", "ratio"];
const OUT_OF_LIMIT = "reading-out-of-limit";

/** What was typed for a reading: `{ value }`, or `{ words }` that say why it cannot be read. */
export function parseReading(text, unit) {
  const typed = wordsOf(text).join(" ");
  if (unit === "yes-no") return parseAnswer(typed.toLowerCase());
  const [, sign, whole, mark, part = "", rest] = NUMBER.exec(typed);
  const bare = UNITLESS.includes(unit);
  if (!whole && !part)
    return { words: bare ? t("Enter a number, such as 40.") : t("Enter a number in {unit}, such as 40.", { unit }) };
  if (whole.length + part.length > MOST_DIGITS) return { words: t("This number is too long.") };
  if (rest && !isUnit(rest.toLowerCase(), unit.toLowerCase())) return { words: misplaced(rest, unit, bare) };
  if (mark === "," && part.length === 3 && /[1-9]/.test(whole)) {
    const ways = { together: `${whole}${part}`, apart: `${whole}.${part}`, typed };
    return { words: t("Write {together} or {apart}: {typed} could be either.", ways) };
  }
  return { value: decimal(sign === "-" || sign === "\u2212", whole, part) };
}

function parseAnswer(typed) {
  const value = SHORT.get(typed) ?? typed;
  return ["yes", "no"].includes(value) ? { value } : { words: t("Answer yes or no.") };
}

const isUnit = (typed, unit) => typed === unit || (SPELLINGS.get(unit) ?? []).includes(typed);

function misplaced(rest, unit, bare) {
  if (bare) return t("Enter a number: {rest} was typed behind it.", { rest });
  return t("Enter a number in {unit}: {rest} was typed behind it.", { unit, rest });
}

/** Every limit judged whose readings (a Map by code) are all there, in the limits' order. */
export const workOut = (aircraft, values) =>
  aircraft.limits.map((limit) => judge(aircraft, limit, values)).filter(Boolean);

function judge(aircraft, limit, values) {
  const named = (one) => one.code === limit.of;
  const worked = aircraft.arithmetic.find(named);
  const judged = worked ?? aircraft.readings.find(named);
  const needed = worked?.of ?? [limit.of];
  if (!judged || !needed.every((code) => values.has(code))) return null;
  const read = needed.map((code) => values.get(code));
  const value = worked ? workedOut(worked, ...read) : read[0];
  const told = worked ? toldOf(aircraft, needed, read, value) : `${limit.words} ${amount(value, judged)}`;
  const result = { code: limit.code, task: judged.task, readings: needed, value: written(value) };
  result.met = limit.expect ? value === limit.expect : isWithin(limit.bounds, value);
  result.words = `${told}, ${limit.expect ? t("must be {expect}", limit) : asked(limit.bounds, judged)}`;
  return { ...result, error: limit.breach || OUT_OF_LIMIT };
}

function workedOut(worked, first, second) {
  const difference = minus(first, second);
  return worked.how === "spread" ? absolute(difference) : difference;
}

function toldOf(aircraft, needed, read, value) {
  const wordsOfReading = (code) => aircraft.readings.find((one) => one.code === code).words;
  const [one, other] = short(...needed.map(wordsOfReading));
  const difference = t("difference {value}", { value: plain(value) });
  return `${one} ${plain(read[0])}, ${other} ${plain(read[1])}, ${difference}`;
}

/** Two names without the words they end on alike: `left`, `right`. */
function short(first, second) {
  const [one, other] = [wordsOf(first), wordsOf(second)];
  const alike = () => one.at(-1).toLowerCase() === other.at(-1).toLowerCase();
  while (one.length && other.length && alike()) {
    one.pop();
    other.pop();
  }
  if (!one.length || !other.length) return [first, second];
  return [one.join(" ").toLowerCase(), other.join(" ").toLowerCase()];
}

const written = (value) => (typeof value === "string" ? value : plain(value));
const inUnit = (text, unit) => (UNITLESS.includes(unit) ? text : `${text} ${unit}`);
const amount = (value, { unit }) => (unit === "yes-no" ? value : inUnit(plain(value), unit));

function isWithin({ at_least, at_most, above, below }, value) {
  const against = (bound) => compare(value, decimalOf(bound));
  return !(
    (at_least !== undefined && against(at_least) < 0) ||
    (at_most !== undefined && against(at_most) > 0) ||
    (above !== undefined && against(above) <= 0) ||
    (below !== undefined && against(below) >= 0)
  );
}

/** The limit in words, such as `limit 50 rpm` or `limit over 0, at most 150 rpm`. */
function asked({ at_least, at_most, above, below }, { unit }) {
  const parts = [];
  if (at_least !== undefined) parts.push(t("at least {bound}", { bound: at_least }));
  if (above !== undefined) parts.push(t("over {bound}", { bound: above }));
  if (below !== undefined) parts.push(t("under {bound}", { bound: below }));
  const isAlone = at_least === undefined && above === undefined;
  if (at_most !== undefined) parts.push(isAlone ? at_most : t("at most {bound}", { bound: at_most }));
  return t("limit {bounds}", { bounds: inUnit(parts.join(", "), unit) });
}
