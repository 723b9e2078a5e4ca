// Readings against an aircraft's limits, with the arithmetic done.

import { figure, t } from "../words.js";
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
const SIGNS = {
  amp: "A", count: "", deg: "\u00b0", degc: "\u00b0C", degf: "\u00b0F", percent: "%",
  ratio: "", volt: "V", "yes-no": "",
};
const ANSWERS = { yes: t("yes"), no: t("no") };
const OUT_OF_LIMIT = "reading-out-of-limit";

/** What was typed for a reading: `{ value }`, or `{ words }` that say why it cannot be read. */
export function parseReading(text, unit) {
  const typed = wordsOf(text).join(" ");
  if (unit === "yes-no") return parseAnswer(typed.toLowerCase());
  const [, sign, whole, mark, part = "", rest] = NUMBER.exec(typed);
  const words = unreadable({ typed, whole, mark, part, rest, unit });
  return words ? { words } : { value: decimal(/[-\u2212]/.test(sign), whole, part) };
}

/** Why a number cannot be read, or could be read in two ways; empty when it can. */
function unreadable({ typed, whole, mark, part, rest, unit }) {
  const in_unit = unitSign(unit) && t(" in {unit}", { unit: unitSign(unit) });
  if (!whole && !part) return t("Enter a number{in_unit}, such as 40.", { in_unit });
  if (whole.length + part.length > MOST_DIGITS) return t("This number is too long.");
  if (rest && !isUnit(rest.toLowerCase(), unit.toLowerCase()))
    return t("Enter a number{in_unit}: {rest} was typed behind it.", { in_unit, rest });
  const ways = { whole: `${whole}${part}`, fraction: `${whole}.${part}`, typed };
  if (mark === "," && part.length === 3 && /[1-9]/.test(whole))
    return t("Write {whole} or {fraction}: {typed} could be either.", ways);
  return "";
}

function parseAnswer(typed) {
  const value = SHORT.get(typed) ?? typed;
  return ["yes", "no"].includes(value) ? { value } : { words: t("Answer yes or no.") };
}

/** A unit as people read it: `°C` for `degC`, nothing for a bare number. */
export const unitSign = (unit) => SIGNS[unit.toLowerCase()] ?? unit;

/** A value with the sign of its unit: `40 °C`, `10°`, `3`. */
export const inUnit = (text, unit) =>
  `${text}${["", "\u00b0"].includes(unitSign(unit)) ? "" : " "}${unitSign(unit)}`;

const isUnit = (typed, unit) => typed === unit || (SPELLINGS.get(unit) ?? []).includes(typed);

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
  const told = worked
    ? toldOf(aircraft, needed, read, value)
    : `${limit.words} ${amount(value, judged)}`;
  return {
    code: limit.code,
    task: judged.task,
    readings: needed,
    value: typeof value === "string" ? value : plain(value),
    met: limit.expect ? value === limit.expect : isWithin(limit.bounds, value),
    words: `${told}, ${asked(limit, judged)}`,
    error: limit.breach || OUT_OF_LIMIT,
  };
}

function workedOut(worked, first, second) {
  const difference = minus(first, second);
  return worked.how === "spread" ? absolute(difference) : difference;
}

function toldOf(aircraft, needed, read, value) {
  const wordsOfReading = (code) => aircraft.readings.find((one) => one.code === code).words;
  const [one, other] = short(...needed.map(wordsOfReading));
  const [first, second, difference] = [...read, value].map(written);
  const told = { one, first, other, second, difference };
  return t("{one} {first}, {other} {second}, difference {difference}", told);
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

const written = (value) => (typeof value === "string" ? ANSWERS[value] : figure(plain(value)));
const amount = (value, { unit }) => inUnit(written(value), unit);

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
function asked({ expect, bounds }, { unit }) {
  if (expect) return t("must be {answer}", { answer: ANSWERS[expect] });
  return t("limit {bounds}", { bounds: inUnit([...limits(bounds)].join(", "), unit) });
}

function* limits({ at_least, at_most, above, below }) {
  if (at_least !== undefined) yield t("at least {value}", { value: figure(at_least) });
  if (above !== undefined) yield t("over {value}", { value: figure(above) });
  if (below !== undefined) yield t("under {value}", { value: figure(below) });
  if (at_most === undefined) return;
  const isAlone = at_least === undefined && above === undefined;
  yield isAlone ? figure(at_most) : t("at most {value}", { value: figure(at_most) });
}
