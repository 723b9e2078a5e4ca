// Judges a portable record (windtee-record/1) on this device; nothing leaves the page.
// Codes: 0 good, 2 altered, 3 incomplete, rolled back or forked, 4 unknown or revoked key,
// 5 malformed, 6 superseded shown as current; 1 when this browser cannot check signatures.

import { bytesOf, canonical, jcs, MalformedError, parseAs } from "./canonical.js";
import { digitsOf, fromBase64, fromHex, hash, isSigned, isWeak, readKeyLine, toHex } from "./hashes.js";
import {
  ENTRY, every, FILE, fit, has, hex, isCount, isNumber, ITEM, KEY, REVISION, STATEMENT, SUBJECT,
} from "./record_file.js";
import { isIncluded } from "./tree.js";

const LARGEST_FILE = 32 * 1024 * 1024;
const DOMAIN = "training-ledger/statement/v1\0";
const SUCCESSION = "training-ledger/succession/v1\0";
const PLAIN = ["Good", "Not checked", "Altered", "Incomplete, rolled back or forked"];
PLAIN.push("Unknown or revoked key", "Not a record that can be read", "Out of date");

function must(holds, verdict, words) {
  if (!holds) throw Object.assign(new Error(words), { verdict });
}

/** The 128 bits people compare by eye, in groups of four digits. */
export const fingerprint = async (vkey) =>
  (await readKeyLine(vkey)).digits.match(/.{4}/g).join(" ");

function decoded(decoder, bytes) {
  try {
    return decoder.decode(bytes);
  } catch {
    return must(false, 5, "it is not UTF-8");
  }
}

// --- The questions, in their order ---
async function readFile(bytes) {
  must(bytes.length <= LARGEST_FILE, 5, "it is larger than any record");
  const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
  const file = fit(parseAs(jcs, decoded(decoder, bytes).replace(/\n$/, "")), FILE, "the file");
  fit(file.subject, SUBJECT, "the subject");
  file.keys.forEach((one) => fit(one, KEY, "a key"));
  file.revisions.forEach((one) => fit(one, REVISION, "a revision"));
  const items = [];
  for (const one of file.entries) {
    const { seq, entry: said, statement, proof } = fit(one, ITEM, "an entry");
    const entry = fit(parseAs(canonical, said), ENTRY, "an entry");
    must(entry.seq === seq && (seq === 1) === (entry.prev === null), 5, "an entry is misnumbered");
    must(seq > (items.at(-1)?.seq ?? 0), 5, "the entries are not in their order");
    items.push({ seq, entry, statement, proof, leaf: await hash("\0", said) });
  }
  return { file, items, school: await readKeyLine(file.vkey) };
}

async function openCheckpoint({ file, school }) {
  const note = file.checkpoint;
  const [, text, by, data] = /^([^]*\n)\n\u2014 ([^ \n]+) ([^\n]*)\n$/.exec(note) ?? [];
  must(text && !/[\0-\x09\x0b-\x1f]/.test(note), 5, "the checkpoint cannot be read");
  const signature = fromBase64(data);
  const ours = by === school.name && toHex(signature.slice(0, 4)) === school.id;
  must(ours, 4, "the checkpoint is signed by another key");
  const right = await isSigned(school.public, text, signature.slice(4));
  must(right, 2, "the checkpoint is not what the school signed");
  const shape = /^([^\n]+)\n(0|[1-9]\d{0,14})\n([A-Za-z0-9+/]{43}=)\n$/;
  const [, origin, size, base64] = shape.exec(text) ?? [];
  must(origin, 5, "the checkpoint cannot be read");
  const root = toHex(fromBase64(base64));
  must(origin === file.origin && origin === school.name, 2, "the checkpoint is of another ledger");
  return { size: Number(size), root };
}

async function checkTree({ items }, { size, root }) {
  must(items.every((item) => item.seq <= size), 3, "the checkpoint is older than the entries");
  const failed = [];
  for (const { seq, leaf, proof } of items)
    if (!(await isIncluded(seq - 1, size, leaf, proof, root))) failed.push(seq);
  const code = failed.length === items.length ? 3 : 2;
  must(!failed.length, code, `entry ${failed[0]} is not in the ledger the school signed`);
  items.slice(1).forEach(({ seq, entry }, at) => {
    const follows = items[at].seq + 1 !== seq || items[at].leaf === entry.prev;
    must(follows, 3, `entry ${seq} does not follow the one before`);
  });
}

const kidOf = async (key) => (await hash(fromHex(key))).slice(0, 32);
const schoolOf = (ring) => ring.line.at(-1)?.kid;

async function introduce(item, ring) {
  const { kid, public: key, holder, name } = item.said.body;
  must(has(item.said.body, KEY), 5, `entry ${item.seq} introduces no key that can be read`);
  if (item.said.type === "school.open") ring.line.push({ kid, public: key, since: 1 });
  const named = (await kidOf(key)) === kid && !ring.known.has(kid) && !isWeak(fromHex(key));
  must(named && item.entry.kid === schoolOf(ring), 4, `entry ${item.seq} introduces a key it may not`);
  ring.known.set(kid, { kid, public: key, holder, name });
  if (Object.hasOwn(item.said.body, "device")) ring.phones.add(kid);
}

/** Another key of the school's takes over: by rotation, or because the old one was compromised. */
async function succeed({ seq, entry, said: { type, body } }, ring) {
  const broken = type === "key.compromised";
  const { kid, public: key, holder, name, follows, proof, good_size: good } = body;
  const readable = has(body, KEY) && hex(32)(follows) && hex(128)(proof);
  must(readable && (!broken || isCount(good)), 5, `entry ${seq} changes to no key that can be read`);
  const old = ring.line.at(-1);
  const gives = old?.kid === follows && entry.kid === (broken ? kid : follows);
  must(gives, 4, `entry ${seq}: it is not the key in force that gives way`);
  const fresh = (await kidOf(key)) === kid && !ring.known.has(kid);
  must(fresh, 4, `entry ${seq}: the new key is not named rightly, or not new`);
  const word = `${SUCCESSION}${follows} ${kid} ${entry.prev ?? ""}`;
  const says = await isSigned(fromHex(key), word, fromHex(proof));
  must(says, 4, `entry ${seq}: the new key does not say that it follows here`);
  const until = broken ? good : seq;
  must(old.since - 1 <= until && until <= seq, 4, `entry ${seq}: no good size of the old key`);
  if (broken) ring.followed = ring.line.length;
  ring.line.push({ kid, public: key, since: broken ? seq : seq + 1 });
  ring.known.set(kid, { kid, public: key, holder, name });
  ring.revoked.add(follows);
}

async function checkStatement(item, ring) {
  const { seq, entry, statement } = item;
  must((await hash(statement)) === entry.stmt_sha256, 2, `statement ${seq} was changed`);
  item.said = fit(parseAs(canonical, statement), STATEMENT, `the statement of entry ${seq}`);
  const { type, actor, assurance, body } = item.said;
  if (type === "school.open") {
    must(!ring.line.length, 4, "the ledger was opened with another key");
    await introduce(item, ring);
  }
  if (type === "key.compromised") await succeed(item, ring);
  const key = ring.known.get(entry.kid);
  must(key, 4, `entry ${seq} is signed by a key no one introduced`);
  must(!ring.revoked.has(entry.kid), 4, `entry ${seq} is signed by a key revoked before`);
  must(seq <= (ring.good.get(entry.kid) ?? seq), 4, `entry ${seq}: its key was compromised`);
  const its = entry.kid === schoolOf(ring) || key.holder === actor;
  must(its, 4, `entry ${seq}: not its signer's key`);
  const phone = ring.phones.has(entry.kid) === (assurance === "device");
  must(phone, 4, `entry ${seq} and its key differ on who signed it`);
  const right = await isSigned(fromHex(key.public), DOMAIN + statement, fromHex(entry.sig));
  must(right, 2, `the signature of entry ${seq} is wrong`);
  if (type === "key.rotate") await succeed(item, ring);
  if (type === "key.enrol") await introduce(item, ring);
  if (type === "key.revoke") {
    must(KEY.kid(body.kid), 5, `entry ${seq} revokes no key that can be read`);
    ring.revoked.add(body.kid);
  }
  if (type === "record.erase") ring.erased.add(body.erases);
}

/** The last good size of each key that any statement calls compromised. */
function goodSizes(items) {
  const found = new Map();
  for (const { statement } of items) {
    let said = null;
    try {
      said = fit(parseAs(canonical, statement ?? ""), STATEMENT, "");
    } catch {
      continue; // it is judged in its turn
    }
    const { follows, good_size: good } = said.body;
    if (said.type !== "key.compromised" || typeof follows !== "string" || !isCount(good)) continue;
    found.set(follows, Math.min(good, found.get(follows) ?? good));
  }
  return found;
}

async function checkStatements({ file, items, school }) {
  const ring = { line: [], followed: 0, good: goodSizes(items), known: new Map() };
  Object.assign(ring, { phones: new Set(), revoked: new Set(), erased: new Set() });
  for (const item of items) if (item.statement !== null) await checkStatement(item, ring);
  for (const { seq, said, entry } of items)
    must(said || ring.erased.has(entry.stmt_sha256), 2, `the statement of ${seq} was taken out`);
  const under = !ring.line.length || schoolOf(ring) === (await kidOf(toHex(school.public)));
  must(under, 4, "the ledger is under another key than the file");
  const kids = file.keys.map((key) => key.kid).join();
  must(kids === [...ring.known.keys()].join(), 4, "the list of keys is not that of the ledger");
  must(jcs(file.keys) === jcs([...ring.known.values()]), 2, "the list of keys was changed");
  return ring;
}

async function checkCertificate({ file, items }) {
  const { said: last } = items.at(-1) ?? {};
  must(last?.type === "record.certify", 3, "the record does not end with its certificate");
  const { body } = last;
  const lists = [body.entries, body.keys];
  must(lists.every(every(isNumber)) && hex(64)(body.copy), 5, "the certificate cannot be read");
  const { issued_at, shown, subject } = file;
  const of = subject.enrolment;
  must(body.of === of, 2, "the certificate is of another record");
  const held = [[], []];
  for (const { seq, said } of items.slice(0, -1)) {
    const whose = said ? said.subject : of;
    must(whose === null || whose === of, 2, `entry ${seq} is of another record`);
    held[whose === null ? 1 : 0].push(seq);
  }
  must(jcs(lists) === jcs(held), 3, "entries that the certificate lists are not these");
  const shows = { issued_at, revisions: file.revisions.map((one) => one.id), shown, subject };
  must((await hash(jcs(shows))) === body.copy, 2, "what the copy shows was not certified");
}

async function checkRevisions({ file }) {
  for (const { id, files } of file.revisions) {
    const order = (one, other) => (toHex(bytesOf(one)) < toHex(bytesOf(other)) ? -1 : 1);
    const texts = Object.keys(files).sort(order).flatMap((name) => [name, files[name]]);
    const parts = texts.map(bytesOf).flatMap((part) => [`${part.length}:`, part]);
    must((await hash(...parts)) === id, 2, `revision ${id.slice(0, 12)} was changed`);
  }
}

function checkCurrent({ file, items }) {
  const [seen, replaced] = [new Set(), new Set()];
  for (const { seq, said, entry } of items) {
    let old = said?.type === "record.sign" ? said.body.supersedes : null;
    if (said?.type === "record.void") old = said.body.voids;
    const may = (old ?? null) === null || (seen.has(old) && !replaced.has(old));
    must(may, 3, `entry ${seq} replaces what cannot be replaced`);
    replaced.add(old);
    seen.add(entry.stmt_sha256);
  }
  const signed = items.filter(({ said }) => said?.type === "record.sign");
  const kept = signed.filter(({ entry }) => !replaced.has(entry.stmt_sha256));
  const same = kept.map(({ said }) => said.id).join() === file.current.join();
  must(same, 6, "what it shows as current is not what is in force");
}

async function judge(bytes, trusted) {
  const record = await readFile(bytes);
  await checkTree(record, await openCheckpoint(record));
  const ring = await checkStatements(record);
  await checkCertificate(record);
  await checkRevisions(record);
  checkCurrent(record);
  const { origin } = record.file;
  if ((trusted ?? null) === null) return `it agrees with itself; compare the key of ${origin}`;
  const place = await placeOf(trusted, origin, ring.line);
  must(place >= 0, 4, "it agrees with itself, but its key is not the one you trust");
  must(place >= ring.followed, 4, "the key you trust was compromised: get the new fingerprint");
  return `whole and unaltered, certified by ${origin}`;
}

/** Which of the school's keys is trusted, by its fingerprint or its line; -1 for none. */
async function placeOf(trusted, origin, line) {
  const digits = trusted.replace(/[\s:-]/g, "").toLowerCase();
  const prints = await Promise.all(line.map((key) => digitsOf(origin, fromHex(key.public))));
  const typed = (print, at) =>
    `${origin}+${print.slice(0, 8)}+${toBase64(1, ...fromHex(line[at].public))}` === trusted.trim();
  return prints.findLastIndex((print, at) => print === digits || typed(print, at));
}

const toBase64 = (...bytes) => btoa(String.fromCharCode(...bytes));

/** The verdict on a file (Uint8Array): code and one line; `trusted` is fingerprint or key line. */
export async function verifyBundle(bytes, trusted) {
  const told = (code, words) => ({ code, line: `${PLAIN[code]}: ${words}.` });
  try {
    return told(0, await judge(bytes, trusted));
  } catch (error) {
    if (error.verdict) return told(error.verdict, error.message);
    if (error instanceof MalformedError) return told(5, error.message);
    if (error instanceof RangeError) return told(5, "it is nested too deep");
    return told(1, "this browser cannot check signatures here; use the command line");
  }
}
