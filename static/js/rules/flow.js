// A run through an aircraft's checklist held against its flow, and the errors that shows.

import { t } from "../words.js";
import { distance, steps } from "./alignment.js";

/** What was left out and what was done out of order: `{ item, words, named, generic }`. */
export function flowFaults(aircraft, performed) {
  const all = aircraft.blocks.flatMap((block) => block.items);
  const items = new Map(all.map((item) => [item.code, item]));
  const done = performed.filter((code) => items.has(code));
  const blocks = begun(aircraft, done);
  const expected = nearest(blocks, done);
  const { leftOut, putIn, crossed } = edits(expected, done);
  const omitted = leftOut.filter((code) => !putIn.includes(code));
  const moved = leftOut.filter((code) => putIn.includes(code));
  const places = placesOf(blocks, expected);
  const apart = crossed.filter(([first, second]) => places.get(first) !== places.get(second));
  const swaps = apart.map(([first, second]) => ({ code: second, other: first, isLate: false }));
  return [
    ...omitted.map((code) => omission(items.get(code))),
    ...[...swaps, ...moves(places, done, moved)].map((swap) => swapped(items, swap)),
  ];
}

/** The blocks of every checklist that a step belongs to. */
export function begun(aircraft, done) {
  const isDone = (item) => done.includes(item.code);
  const blocks = aircraft.blocks.filter((block) => block.items.some(isDone));
  const checklists = new Set(blocks.map((block) => block.checklist));
  return aircraft.blocks.filter((block) => checklists.has(block.checklist));
}

/** The order the run comes nearest to, items of a free block as first or as last done. */
export function nearest(blocks, done) {
  const forth = inOrder(blocks, [...new Set(done)]);
  const back = inOrder(blocks, [...new Set(done.toReversed())].toReversed());
  return distance(back, done) < distance(forth, done) ? back : forth;
}

function inOrder(blocks, once) {
  return blocks.flatMap((block) => {
    const codes = block.items.map((item) => item.code);
    if (!block.any_order) return codes;
    const taken = once.filter((code) => codes.includes(code));
    return [...taken, ...codes.filter((code) => !once.includes(code))];
  });
}

/** What was left out, what was put in, and neighbours swapped (the first belongs first). */
export function edits(expected, done) {
  const found = { leftOut: [], putIn: [], crossed: [] };
  for (const step of steps(expected, done)) {
    if (step.edit === "swapped") found.crossed.push([step.expected, step.done]);
    if (["left out", "other"].includes(step.edit)) found.leftOut.push(step.expected);
    if (["put in", "other"].includes(step.edit)) found.putIn.push(step.done);
  }
  return found;
}

/** Place of each item in the flow, in its order; items of one free block share theirs. */
function placesOf(blocks, expected) {
  const places = new Map(expected.map((code, place) => [code, place]));
  for (const block of blocks.filter((one) => one.any_order)) {
    const codes = block.items.map((item) => item.code);
    const shared = Math.min(...codes.map((code) => places.get(code)));
    codes.forEach((code) => places.set(code, shared));
  }
  return places;
}

/** Items done at another place; each against its nearest item in the flow. */
function moves(places, done, moved) {
  const others = [...places.keys()].filter((code) => done.includes(code));
  const isAfter = (one, other) => done.indexOf(one) > done.indexOf(other);
  return moved.flatMap((code) => {
    const later = others.filter((other) => places.get(other) > places.get(code));
    const sooner = others.filter((other) => places.get(other) < places.get(code));
    const late = later.find((other) => isAfter(code, other));
    if (late) return [{ code, other: late, isLate: true }];
    const early = sooner.findLast((other) => isAfter(other, code));
    return early ? [{ code, other: early, isLate: false }] : [];
  });
}

function omission(item) {
  const generic = item.critical ? "flow-omitted-critical" : "flow-omitted";
  return { item, words: t("{item} left out", { item: item.words }), named: item.omitted, generic };
}

function swapped(items, { code, other: beside, isLate }) {
  const [item, other] = [items.get(code), items.get(beside)];
  const both = { item: item.words, other: other.words };
  const words = isLate
    ? t("{item} done after {other}, belongs before it", both)
    : t("{item} done before {other}, belongs after it", both);
  const blamed = item.swapped || !other.swapped ? item : other;
  const isCritical = item.critical || other.critical;
  const generic = isCritical ? "flow-swapped-critical" : "flow-swapped";
  return { item: blamed, words, named: blamed.swapped, generic };
}
