// One flow run: what a tap makes of it, and how far it has come.

import { begun, nearest, edits } from "./flow.js";
import { agreement, damerauDistance } from "./order.js";

const HOW = ["done", "prompted", "skipped"];

/**
 * The steps after one tap. `wanted`: `done:ITEM`, `prompted:ITEM`, `skipped:ITEM`, `undo`,
 * `clear`, or `rest` (every item of the checklist `part` not yet touched, as listed).
 */
export function stepped(steps, aircraft, wanted, part) {
  const [how, item] = [wanted.split(":", 1)[0], wanted.slice(wanted.indexOf(":") + 1)];
  if (wanted === "undo") return steps.slice(0, -1);
  if (wanted === "clear") return [];
  if (wanted === "rest") {
    const touched = new Set(steps.map((step) => step.item));
    const items = aircraft.blocks.filter((block) => block.checklist === part).flatMap((block) => block.items);
    const left = items.filter((one) => !touched.has(one.code));
    return [...steps, ...left.map((one) => ({ item: one.code, how: "done" }))];
  }
  const known = aircraft.blocks.some((block) => block.items.some((one) => one.code === item));
  return HOW.includes(how) && known ? [...steps, { item, how }] : steps;
}

/** The run held against the flow: counts of items, departures and prompts; null before a step. */
export function flowRun(aircraft, steps) {
  if (!steps.length) return null;
  const codes = new Set(aircraft.blocks.flatMap((block) => block.items.map((item) => item.code)));
  const run = steps.filter((step) => step.how !== "skipped" && codes.has(step.item));
  const done = run.map((step) => step.item);
  const expected = nearest(begun(aircraft, done), done);
  const { leftOut, putIn } = edits(expected, done);
  const { moved, tau } = agreement(expected, done);
  const prompted = run.filter((step) => step.how === "prompted").map((step) => step.item);
  return {
    expected: expected.length,
    distance: damerauDistance(expected, done),
    omitted: leftOut.filter((code) => !putIn.includes(code)).length,
    moved: moved.length,
    prompted: new Set(prompted).size,
    agreement: tau,
  };
}
