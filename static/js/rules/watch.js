// Errors that recur in one student, and what closes them: as `gradebook/records/watchitems.py`.

import { inOrder } from "./carryover.js";

const MARKS = 3;
const OPPORTUNITIES = 5;
const NEEDED_CLEAN = 9;
const CRITICAL = "safety-critical";

/** By task, oldest first: the day of each lesson it was an opportunity in, and errors marked. */
function chances(history) {
  const found = new Map();
  for (const fact of inOrder(history)) {
    const marks = new Map(fact.grades.filter(([, , rank]) => rank !== null).map(([task]) => [task, new Map()]));
    for (const [task, error, severity] of fact.errors) {
      if (!marks.has(task)) marks.set(task, new Map());
      marks.get(task).set(error, severity);
    }
    for (const [task, errors] of marks) {
      found.set(task, [...(found.get(task) ?? []), { on: fact.flown_on, errors }]);
    }
  }
  return found;
}

function opened(seen, chance) {
  if (!chance.severity) return null;
  const isCritical = chance.severity === CRITICAL;
  const marked = seen.slice(-OPPORTUNITIES).filter((one) => one.severity).length;
  if (!isCritical && marked < MARKS) return null;
  return { isCritical, clean: 0, isDecided: false };
}

/** The item unless what it needs to close is there. */
function settled(item) {
  const isProved = item.clean >= NEEDED_CLEAN;
  const isOver = item.isCritical ? isProved && item.isDecided : isProved || item.isDecided;
  return isOver ? null : item;
}

function seeing(item, seen, chance) {
  if (!item) return opened(seen, chance);
  const isMarked = Boolean(chance.severity);
  return settled({
    isCritical: item.isCritical || chance.severity === CRITICAL,
    clean: isMarked ? 0 : item.clean + 1,
    isDecided: item.isDecided && !isMarked,
  });
}

/** What is open of one error after its opportunities and decisions (days); null for nothing. */
function followed(lessons, error, decided) {
  const waiting = decided.toSorted();
  const decide = (item) => item && settled({ ...item, isDecided: true });
  const seen = [];
  let item = null;
  for (const { on, errors } of lessons) {
    while (waiting.length && waiting[0] < on) {
      item = decide(item);
      waiting.shift();
    }
    const chance = { severity: errors.get(error) };
    seen.push(chance);
    item = seeing(item, seen, chance);
  }
  return waiting.reduce(decide, item);
}

/** The open items: `{ task, error, clean, isCritical, isDecided }`. */
export function openItems(history, decisions) {
  const items = [];
  for (const [task, lessons] of chances(history)) {
    for (const error of new Set(lessons.flatMap((one) => [...one.errors.keys()]))) {
      const decided = decisions.filter((one) => one.task === task && one.error === error);
      const item = followed(lessons, error, decided.map((one) => one.on));
      if (item) items.push({ task, error, ...item });
    }
  }
  return items;
}
