// The statement that signs a lesson record, as `gradebook/records/statement.py` builds it.

import { byBytes, canonical } from "./canonical.js";
import { toHex } from "./hashes.js";
import { readDay } from "./rules/days.js";
import { gauges, typedReadings } from "./rules/gauges.js";
import { aircraftOf, entryOf, errorOf, meets, rank, scaleOf, taskOf } from "./rules/setting.js";
import { strip } from "./rules/text.js";
import { times } from "./rules/times.js";

const LONGEST_READING = 20;

/** The whole body of a card that is checked and finished; `known` is what the pocket says of it. */
export function bodyOf(card, setting, known) {
  const read = gauges(card, setting);
  return {
    ...known,
    flown_on: readDay(card.flown_on),
    aircraft: strip(`${card.aircraft} ${strip(card.ident)}`) || null,
    outcome: card.outcome,
    times: statedTimes(card),
    remarks: strip(card.remarks),
    next_lesson: card.next_lesson || null,
    grades: setting.tasks.map((task) => gradeOf(card, setting, task)),
    errors: inOrder(card.entries.flatMap((entry) => errorsOf(entry, setting, read.proposed))),
    readings: inOrder(readingsOf(card, setting, read.results)),
    card,
  };
}

/** The canonical text that a device's key signs. `known` parts of the statement may be given. */
export function statementOf({ body, actor, zone, at = new Date(), ...known }) {
  return canonical({
    v: 1,
    id: crypto.randomUUID(),
    type: "record.sign",
    actor,
    assurance: "device",
    claimed_at: at.toISOString(),
    tz: zone,
    nonce: toHex(crypto.getRandomValues(new Uint8Array(16))),
    subject: body.enrolment,
    body,
    ...known,
  });
}

const inOrder = (parts) => parts.sort((one, other) => byBytes(canonical(one), canonical(other)));

/** What is not nothing: whole numbers as they are, others as text. */
function statedTimes(card) {
  const plain = (value) => (Number.isInteger(Number(value)) ? Number(value) : String(value));
  const read = Object.entries(times(card).times).filter(([, value]) => value);
  return Object.fromEntries(read.map(([name, value]) => [name, plain(value)]));
}

function gradeOf(card, setting, task) {
  const [entry, scale] = [entryOf(card, task.code), scaleOf(setting, task)];
  const level = entry.level || "left-blank";
  return {
    task: task.code,
    scale: task.scale,
    level,
    rank: rank(scale, level),
    target: task.target,
    meets: meets(scale, level, task.target),
    together: entry.together,
    carried_from: task.carried_from,
    remark: strip(entry.remark),
  };
}

function errorsOf(entry, setting, proposed) {
  const found = (code) =>
    proposed.find((mark) => mark.task === entry.task && mark.error === code)?.found ?? "tapped";
  return [...new Set(entry.errors)].map((code) => ({
    task: entry.task,
    error: code,
    severity: errorOf(setting, taskOf(setting, entry.task), code).severity,
    found: found(code),
  }));
}

function readingsOf(card, setting, results) {
  const aircraft = aircraftOf(card, setting);
  return typedReadings(card, aircraft).map(([code, typed]) => ({
    code,
    value: strip(typed).slice(0, LONGEST_READING),
    unit: aircraft.readings.find((one) => one.code === code).unit,
    within: within(results.filter((result) => result.readings.includes(code))),
  }));
}

const within = (judged) => (judged.length ? judged.every((result) => result.met) : null);
