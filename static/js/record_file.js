// What fields a portable record (windtee-record/1) has, and what may stand in them.

import { MalformedError } from "./canonical.js";

const isText = (value) => typeof value === "string";
export const isObject = (value) =>
  value !== null && typeof value === "object" && !Array.isArray(value);
export const isNumber = (value) => Number.isSafeInteger(value) && value >= 1;
export const isCount = (value) => Number.isSafeInteger(value) && value >= 0;
const like = (shape) => (value) => isText(value) && shape.test(value);
export const hex = (digits) => like(new RegExp(`^[0-9a-f]{${digits}}$`));
const is = (wanted) => (value) => value === wanted;
const orNull = (check) => (value) => value === null || check(value);
export const every = (check) => (value) => Array.isArray(value) && value.every(check);
const texts = every((value) => isText(value) && !value.includes("\r"));
const some = like(/^.{1,200}$/su);
const day = "\\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\\d|3[01])";
const moment = like(new RegExp(`^${day}T([01]\\d|2[0-3])(:[0-5]\\d){2}(\\.\\d{1,6})?Z$`));
const uuid = like(/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/);

export const SUBJECT = { enrolment: some, student: some, name: some, course: some };
export const KEY = { kid: hex(32), public: hex(64), holder: some, name: some };
export const ITEM = {
  seq: isNumber, entry: isText, statement: orNull(isText), proof: every(hex(64)),
};
export const REVISION = {
  id: hex(64), files: (value) => isObject(value) && texts(Object.values(value)),
};
export const FILE = {
  format: is("windtee-record/1"), origin: some, vkey: some, issued_at: moment,
  checkpoint: isText, subject: isObject, keys: every(isObject), entries: every(isObject),
  revisions: every(isObject), current: every(uuid), shown: isObject,
};
export const ENTRY = {
  v: is(1), seq: isNumber, prev: orNull(hex(64)), recorded_at: moment, stmt_sha256: hex(64),
  alg: is("ed25519"), kid: hex(32), sig: hex(128),
};
export const STATEMENT = {
  v: is(1), id: uuid, type: like(/^[a-z]+(\.[a-z]+)+$/), actor: some, assurance: some,
  claimed_at: moment, tz: some, nonce: hex(32), subject: orNull(some), body: isObject,
};

export const has = (value, checks) =>
  Object.keys(checks).every((name) => Object.hasOwn(value, name) && checks[name](value[name]));

/** The value, which has these fields and no others. */
export function fit(value, checks, what) {
  const exact = isObject(value) && Object.keys(value).length === Object.keys(checks).length;
  if (!exact || !has(value, checks))
    throw new MalformedError(`${what} has other fields than it should`);
  return value;
}
