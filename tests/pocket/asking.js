// What the tests ask of the scripts; every answer is JSON.

import { canonical } from "./canonical.js";
import * as rules from "./rules.js";
import { plain } from "./rules/decimals.js";
import { parseReading } from "./rules/readings.js";
import { lengthOf, strip, wordsOf } from "./rules/text.js";
import { foreseen } from "./rules/foreseen.js";
import { openItems } from "./rules/watch.js";
import { flowRun, stepped } from "./rules/run.js";
import { bodyOf, statementOf } from "./statement.js";

let settings = [];
let known = [];
let stated = {};

export function prepare(packed) {
  [settings, known, stated] = JSON.parse(packed);
}

function stating(card, setting, before) {
  const body = bodyOf(card, setting, before);
  return statementOf({ body, actor: body.instructor, zone: setting.zone, ...stated });
}

function judge([place, card]) {
  const setting = settings[place];
  const judged = {
    check: rules.check(card, setting),
    missing: rules.missing(card, setting),
    gauges: rules.gauges(card, setting),
    proposal: rules.proposal(card, setting),
    times: rules.times(card),
    review: rules.review(card, setting),
  };
  const canSign = !judged.check.length && !judged.missing.length;
  return { ...judged, statement: canSign ? stating(card, setting, known[place]) : null };
}

function told(act, ...values) {
  try {
    return act(...values);
  } catch (fault) {
    return { fault: fault.constructor.name, words: String(fault.stack) };
  }
}

export const judgeAll = (cards) => JSON.stringify(JSON.parse(cards).map((one) => told(judge, one)));

/** One lesson after another, each stated under what those before it make of its card. */
function state({ packed, cards }) {
  const bodies = [];
  return packed.map((one, place) => {
    const others = packed.filter((other) => other !== one).map((other) => other.setting);
    const { setting, body } = foreseen(one, bodies, others);
    const text = stating(cards[place], setting, body);
    bodies.push(JSON.parse(text).body);
    return { setting, text };
  });
}

export const stateAll = (asked) => JSON.stringify(JSON.parse(asked).map((one) => told(state, one)));

const watch = ({ history, decisions }) => openItems(history, decisions);

export const watchAll = (asked) => JSON.stringify(JSON.parse(asked).map((one) => told(watch, one)));

function walk({ place, kind, taps }) {
  const aircraft = settings[place].aircraft[kind];
  let steps = [];
  return taps.map(([wanted, part]) => {
    steps = stepped(steps, aircraft, wanted, part);
    return { steps, run: flowRun(aircraft, steps) };
  });
}

export const walkAll = (asked) => JSON.stringify(JSON.parse(asked).map((one) => told(walk, one)));

const written = ({ value, words }) =>
  words ?? (typeof value === "string" ? value : plain(value));

const readText = (units, fields) => (typed) => ({
  day: rules.readDay(typed),
  stripped: strip(typed),
  words: wordsOf(typed),
  length: lengthOf(typed),
  times: fields.map((field) => rules.times({ times: { [field]: typed } })),
  readings: units.map((unit) => written(parseReading(typed, unit))),
});

export function readAll(asked) {
  const { units, fields, texts } = JSON.parse(asked);
  return JSON.stringify(texts.map(readText(units, fields)));
}

export function writeAll(values) {
  const write = (value) => canonical(JSON.parse(value));
  return JSON.stringify(JSON.parse(values).map((value) => told(write, value)));
}

export function daysOf(moments) {
  const day = ([zone, at]) => rules.schoolDay(zone, new Date(at));
  return JSON.stringify(JSON.parse(moments).map(day));
}

export function hoursOf(most) {
  const both = (minutes) => ["decimal", "clock"].map((style) => rules.hours(minutes, style));
  return JSON.stringify(Array.from({ length: JSON.parse(most) }, (_, minutes) => both(minutes)));
}
