// What the readings and the flow run of a card say: verdicts, and error marks they propose.

import { flowFaults } from "./flow.js";
import { parseReading, workOut } from "./readings.js";
import { aircraftOf, errorOf, taskOf } from "./setting.js";
import { strip } from "./text.js";

/** The readings typed on the card that this aircraft has: code and what was typed. */
export function typedReadings(card, aircraft) {
  const has = (code) => aircraft?.readings.some((one) => one.code === code);
  return Object.entries(card.readings).filter(([code, typed]) => strip(typed) && has(code));
}

/** Limits worked out, and what they and the flow run propose, against the aircraft chosen. */
export function gauges(card, setting) {
  const aircraft = aircraftOf(card, setting);
  if (!aircraft) return { results: [], proposed: [] };
  const results = workOut(aircraft, valuesOf(card, aircraft));
  const performed = card.steps.filter((step) => step.how !== "skipped");
  const faults = flowFaults(aircraft, performed.map((step) => step.item));
  const found = [
    ...results.filter((result) => !result.met).flatMap((result) => fromReading(setting, result)),
    ...faults.flatMap((fault) => fromFlow(setting, fault)),
  ];
  return { results, proposed: merged(found, setting) };
}

function valuesOf(card, aircraft) {
  const unitOf = (code) => aircraft.readings.find((one) => one.code === code).unit;
  const read = typedReadings(card, aircraft).map(([code, typed]) => [
    code,
    parseReading(typed, unitOf(code)).value,
  ]);
  return new Map(read.filter(([, value]) => value !== undefined));
}

function fromReading(setting, { task, error, words }) {
  return mark(setting, task, error, "reading-out-of-limit", words, "reading");
}

function fromFlow(setting, { item, words, named, generic }) {
  return mark(setting, item.task, named, generic, words, "flow");
}

/** A mark for a task of the card: the error named, or the generic one where it has none such. */
function mark(setting, code, named, generic, why, found) {
  const task = taskOf(setting, code);
  if (!task) return [];
  const plain = setting.generic.find((error) => error.code === generic);
  const error = (named && errorOf(setting, task, named)) || plain;
  return [{ task: code, error: error.code, severity: error.severity, why, found }];
}

/** Each error once a task, with every reason, in the order of the card. */
function merged(found, setting) {
  const marks = new Map();
  for (const one of found) {
    const key = `${one.task} ${one.error}`;
    const before = marks.get(key);
    marks.set(key, before ? { ...before, why: `${before.why}; ${one.why}` } : one);
  }
  const all = [...marks.values()];
  return setting.tasks.flatMap((task) => all.filter((mark) => mark.task === task.code));
}
