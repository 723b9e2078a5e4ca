// Decimal numbers as they are written: exact, without the rounding of binary fractions.

/** A decimal out of its parts, such as `-`, `12`, `50`: `units` of ten to the power -`places`. */
export function decimal(minus, whole, part) {
  const units = BigInt(`${whole}${part}` || "0");
  return { units: minus ? -units : units, places: part.length };
}

/** A decimal out of a text such as `-12.5`. */
export function decimalOf(text) {
  const [, minus, whole, part = ""] = /^(-?)([0-9]+)(?:\.([0-9]+))?$/.exec(text);
  return decimal(minus, whole, part);
}

const scaled = ({ units, places }, wanted) => units * 10n ** BigInt(wanted - places);

/** The first less the second. */
export function minus(first, second) {
  const places = Math.max(first.places, second.places);
  return { units: scaled(first, places) - scaled(second, places), places };
}

/** -1, 0 or 1: whether the first is less than, equal to or more than the second. */
export function compare(first, second) {
  const { units } = minus(first, second);
  return units < 0n ? -1 : Number(units > 0n);
}

/** The number without its sign. */
export const absolute = ({ units, places }) => ({ units: units < 0n ? -units : units, places });

/** The number written without trailing zeros. */
export function plain({ units, places }) {
  const digits = String(units < 0n ? -units : units).padStart(places + 1, "0");
  const at = digits.length - places;
  const part = digits.slice(at).replace(/0+$/, "");
  return `${units < 0n ? "-" : ""}${digits.slice(0, at)}${part && "."}${part}`;
}
