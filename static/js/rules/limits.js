// The limits on a reading, in words.

import { figure, t } from "../words.js";
import { inUnit } from "./readings.js";

/** A limit in a few words, such as `40 to 90 °C`. */
export const limitWords = ({ expect, bounds }, unit) =>
  expect ? t(expect) : inUnit(boundsWords(bounds), unit);

function boundsWords({ at_least, at_most, above, below }) {
  if (at_least !== undefined && at_most !== undefined)
    return t("{least} to {most}", { least: figure(at_least), most: figure(at_most) });
  const named = [[t("at least"), at_least], [t("over"), above], [t("under"), below], [t("at most"), at_most]];
  return named.filter(([, end]) => end !== undefined).map(([words, end]) => `${words} ${figure(end)}`).join(", ");
}

/** Every limit that a reading is held to among those taken, those on arithmetic named. */
export function heldTo({ limits, arithmetic }, { code, unit }, taken) {
  const isTaken = (read) => read.includes(code) && read.every((other) => taken.includes(other));
  const worked = new Map(arithmetic.filter(({ of }) => isTaken(of)).map((one) => [one.code, one.unit]));
  const alone = limits.filter(({ of }) => of === code).map((one) => limitWords(one, unit));
  const beside = limits
    .filter(({ of }) => worked.has(of))
    .map((one) => `${one.words} ${limitWords(one, worked.get(one.of))}`);
  return [...alone, ...beside].join("; ");
}
