// One text for one content (RFC 8785, whole numbers only), and a reader that takes no other.

const DEEPEST = 40;

/** A value or text that is not what it should be; the message says where it fails. */
export class MalformedError extends Error {}

function need(holds, words) {
  if (!holds) throw new MalformedError(words);
}

/** The bytes of a text in UTF-8. */
export const bytesOf = (text) => new TextEncoder().encode(text);

/** Which of two texts comes first by the bytes of UTF-8, as `sort` asks. */
export function byBytes(one, other) {
  const [left, right] = [Array.from(one), Array.from(other)];
  const at = left.findIndex((sign, place) => sign !== right[place]);
  if (at < 0) return left.length - right.length;
  return at < right.length ? left[at].codePointAt(0) - right[at].codePointAt(0) : 1;
}

function writeText(text) {
  need(!/\p{Surrogate}/u.test(text), "it holds half a character");
  return JSON.stringify(text);
}

function writeObject(value, compose, room) {
  const composed = (name) => (compose ? name.normalize("NFC") : name);
  const named = new Map(Object.keys(value).map((name) => [composed(name), value[name]]));
  need(named.size === Object.keys(value).length, "a name stands there twice");
  const names = [...named.keys()].sort(); // by UTF-16 code units, as the RFC asks
  const parts = names.map((name) => `${writeText(name)}:${write(named.get(name), compose, room)}`);
  return `{${parts.join(",")}}`;
}

function write(value, compose, room) {
  if (typeof value === "string") return writeText(compose ? value.normalize("NFC") : value);
  if (typeof value === "number") need(Number.isSafeInteger(value), "a number is not whole");
  if (value === null || ["boolean", "number"].includes(typeof value)) return String(value);
  need(typeof value === "object", "it holds what JSON has no words for");
  need(room > 0, "it is nested too deep");
  if (!Array.isArray(value)) return writeObject(value, compose, room - 1);
  return `[${value.map((item) => write(item, compose, room - 1)).join(",")}]`;
}

/** RFC 8785 of a value, its text left as it is. */
export const jcs = (value) => write(value, false, DEEPEST);

/** RFC 8785 of a value with all its text in NFC: what is signed. */
export const canonical = (value) => write(value, true, DEEPEST);

/** The value of a text written in this very way (`jcs` or `canonical`) and no other. */
export function parseAs(writer, text) {
  let value;
  try {
    value = JSON.parse(text);
  } catch {
    need(false, "it is not JSON");
  }
  need(writer(value) === text, "it is not written in its canonical form");
  return value;
}
