// The phone as a witness: it keeps the newest checkpoint of the school's ledger that it has
// seen, and asks for the proof that the present ledger continues it. A school that went back,
// or wrote another past, cannot give one.
// The fact `witness`: note, size, root and vkey (what was seen last), checked_at, and `broken`
// (why, at, and the note that does not continue it) while that is not dealt with.

import { canonical, parseAs } from "../canonical.js";
import { digitsOf, fromBase64, fromHex, hash, isSigned, readKeyLine, toHex } from "../hashes.js";
import { isContinued, isIncluded } from "../tree.js";
import { t } from "../words.js";
import * as db from "./db.js";
import { button, make } from "./dom.js";

const STATEMENT = "training-ledger/statement/v1\0";
const SUCCESSION = "training-ledger/succession/v1\0";

class BrokenError extends Error {}

/** What a note says: size and root, when the key (a verifier's line) signed it. */
async function open(note, vkey) {
  const shape = /^([^\n]+)\n(0|[1-9]\d{0,14})\n([A-Za-z0-9+/]{43}=)\n\n((?:\u2014 [^ \n]+ [^ \n]+\n)+)$/;
  const [, origin, size, root, lines] = shape.exec(note) ?? [];
  const key = await readKeyLine(vkey);
  const [text] = note.split("\n\n");
  for (const line of (lines ?? "").trim().split("\n")) {
    const [, name, data] = line.split(" ");
    const bytes = name === key.name && origin === name ? fromBase64(data) : [];
    if (toHex(bytes.slice(0, 4)) !== key.id) continue;
    if (await isSigned(key.public, `${text}\n`, bytes.slice(4)))
      return { note, vkey, size: Number(size), root: toHex(fromBase64(root)) };
  }
  throw new BrokenError(t("What the school answers is not signed by the key this phone knows."));
}

/** The line of the key that a change of keys, shown with its proof, lets follow on `known`. */
async function follow(known, { seq, entry, statement, path }, now) {
  const [read, said] = [parseAs(canonical, entry), parseAs(canonical, statement)];
  const key = await readKeyLine(known);
  const { kid, public: fresh, follows, proof } = said.body;
  const word = `${SUCCESSION}${follows} ${kid} ${read.prev}`;
  const holds = [
    said.type === "key.rotate" && read.seq === seq && read.kid === follows,
    follows === (await hash(key.public)).slice(0, 32) && kid === (await hash(fromHex(fresh))).slice(0, 32),
    (await hash(statement)) === read.stmt_sha256,
    await isSigned(key.public, STATEMENT + statement, fromHex(read.sig)),
    await isSigned(fromHex(fresh), word, fromHex(proof)),
    await isIncluded(seq - 1, now.size, await hash("\0", entry), path, now.root),
  ];
  if (!holds.every(Boolean)) return null;
  const id = (await digitsOf(key.name, fromHex(fresh))).slice(0, 8);
  return `${key.name}+${id}+${btoa(String.fromCharCode(1, ...fromHex(fresh)))}`;
}

/** The present checkpoint, under the key this phone knows or one that followed it in order. */
async function present({ note, vkey, changes }, known) {
  if (vkey === known) return open(note, vkey);
  const now = await open(note, vkey);
  let line = known;
  for (const change of changes) line = (await follow(line, change, now)) ?? line;
  if (line !== vkey)
    throw new BrokenError(t("The school's key is another one than this phone knows, and the old key does not vouch for it."));
  return now;
}

/** Receipts that came with a checkpoint not yet found again in a later one. */
const unproved = async () =>
  (await db.all("receipts")).filter((row) => row.receipt?.note && !row.proved);

async function ask(sizes) {
  const query = new URLSearchParams(sizes.map((size) => ["size", size]));
  const answer = await fetch(`/api/witness?${query}`, { headers: { Accept: "application/json" }, cache: "no-store" });
  return answer.ok ? answer.json() : null;
}

async function judge(told, seen, now) {
  for (const one of seen) {
    if (one.size > now.size)
      throw new BrokenError(t("The ledger had {seen} entries and has {now} now: some are gone.", { seen: one.size, now: now.size }));
    const proof = told.proofs[one.size] ?? [];
    if (!(await isContinued(one.size, now.size, one.root, now.root, proof)))
      throw new BrokenError(t("The first {seen} entries are not those that this phone saw.", { seen: one.size }));
  }
}

async function keep(changes) {
  const known = (await db.get("facts", "witness")) ?? { name: "witness" };
  await db.put("facts", { ...known, ...changes });
}

/** Ask the school for the proof, at once; whether there was an answer. */
export async function check() {
  if (!crypto.subtle) return false;
  const known = await db.get("facts", "witness");
  if (known?.broken) return true;
  const receipts = await unproved();
  const notes = [...(known?.note ? [known.note] : []), ...receipts.map((row) => row.receipt.note)];
  const sizes = notes.map((note) => note.split("\n")[1]);
  const told = await ask([...new Set(sizes)]).catch(() => null);
  if (!told) return false;
  const vkey = known?.vkey ?? told.vkey;
  let now = null;
  try {
    now = await present(told, vkey);
    const seen = await Promise.all(notes.map((note) => open(note, vkey).catch(() => open(note, told.vkey))));
    await judge(told, seen, now);
  } catch (error) {
    if (!(error instanceof BrokenError)) throw error;
    await keep({ broken: { why: error.message, at: Date.now(), kept: notes, shown: told.note, vkey: told.vkey } });
    await tell();
    return true;
  }
  await keep({ ...now, checked_at: Date.now() });
  await db.change(["receipts"], (rows) => {
    for (const row of receipts) rows.put("receipts", { ...row, proved: now.size });
  });
  return true;
}

/** Say on this page that the ledger does not hold. */
export async function tell() {
  const { broken } = (await db.get("facts", "witness")) ?? {};
  const shown = document.querySelector("[data-notices]");
  if (!shown) return;
  shown.querySelector("[data-notice=witness]")?.remove();
  if (!broken) return;
  shown.append(make("p", { class: "summary", role: "alert", "data-notice": "witness" },
    t("The school's ledger is not the one this phone saw before. "), broken.why, " ",
    make("a", { href: "/phone#witness" }, t("What to do"))));
  shown.hidden = false;
}

/** Ask, and say what came of it. */
export async function begin() {
  await check();
  await tell();
}

/** Both sides as a file: for the chief instructor, and for `windtee verify --checkpoint`. */
export function fileOf({ broken }) {
  const [checkpoint, ...more] = broken.kept;
  return `${JSON.stringify({ format: "windtee-witness/1", checkpoint, more, shown: broken.shown, vkey: broken.vkey, why: broken.why, at: new Date(broken.at).toISOString() }, null, 1)}\n`;
}

function save(known) {
  const address = URL.createObjectURL(new Blob([fileOf(known)], { type: "application/json" }));
  const link = make("a", { href: address, download: "windtee-witness.json", hidden: true });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(URL.revokeObjectURL, 60000, address);
}

async function printOf(vkey) {
  return (await readKeyLine(vkey)).digits.match(/.{4}/g).join(" ");
}

/** Fill the section of the page "This phone". */
export async function show(place) {
  if (!place) return;
  const known = await db.get("facts", "witness");
  place.hidden = !known;
  if (!known) return;
  const title = make("h2", {}, known.broken ? t("The school's ledger does not hold") : t("This phone watches the school's ledger"));
  const print = async (vkey) => make("code", {}, await printOf(vkey));
  if (!known.broken) {
    place.replaceChildren(title,
      make("p", {}, t("It has seen {n} entries, and each time the ledger had grown from what it saw before.", { n: known.size })),
      make("p", { class: "small dim" }, t("Key of the school, to compare with paper: "), await print(known.vkey)));
    return;
  }
  const again = async () => {
    const { past = [], broken } = await db.get("facts", "witness");
    await db.put("facts", { name: "witness", past: [...past, broken] });
    await check();
    await tell();
    await show(place);
  };
  place.replaceChildren(title,
    make("p", { class: "summary", role: "alert" }, known.broken.why),
    make("p", {}, t("A backup may have been restored, or somebody changed the past. Both notes are kept here: save them, and give the file to the chief instructor, who compares it with windtee verify --checkpoint.")),
    make("p", { class: "small dim" }, t("Key now shown by the school: "), await print(known.broken.vkey)),
    make("div", { class: "row" },
      button(t("Save both notes to a file"), () => save(known), "button-signal"),
      button(t("It is explained: watch on from here"), again)));
}
