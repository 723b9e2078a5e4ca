// A card as the school will make it once lessons signed on this phone have arrived there.

import { cardTasks, inOrder } from "./carryover.js";
import { openItems } from "./watch.js";

/** A signed statement's body as a fact of the history. */
const factOf = (body) => ({
  record: body.record,
  amends: body.amends,
  lesson: body.lesson,
  attempt: body.attempt,
  flown_on: body.flown_on,
  grades: body.grades.map((one) => [one.task, one.level, one.rank, one.target]),
  errors: body.errors.map((one) => [one.task, one.error, one.severity]),
});

/** The history with signed bodies that it does not know yet, in the order given. */
export function historyWith(past, bodies) {
  const known = new Set(past.history.map((fact) => fact.record));
  const added = bodies.filter((body) => !known.has(body.record)).map(factOf);
  const gone = new Set(added.map((fact) => fact.amends));
  return inOrder([...past.history, ...added].filter((fact) => !gone.has(fact.record)));
}

/**
 * The card (`setting` and `body` renewed) after signed bodies of the same student, the oldest
 * first. `others` are settings in which every task stands that these may have left open. A task
 * of the new setting also has `carried` and `last`, for the form.
 */
export function foreseen(card, bodies, others) {
  const { past, setting, body } = card;
  const whole = historyWith(past, bodies);
  const history = whole.filter((fact) => fact.record !== body.amends);
  const watched = openItems(whole, past.decisions);
  const known = new Map([...others, setting].flatMap((one) => one.tasks.map((task) => [task.code, task])));
  const scales = Object.assign({}, ...others.map((one) => one.scales), setting.scales);
  const { code, kind } = setting.lesson;
  const tasks = cardTasks(past, code, kind, history).map(({ task, target, carried, last }) => ({
    ...known.get(task),
    target,
    carried_from: carried?.origin_lesson ?? null,
    watched: watched.filter((one) => one.task === task).map((one) => one.error).toSorted(),
    carried,
    last,
  }));
  const used = new Set(tasks.map((task) => task.scale));
  const made = history.filter((fact) => fact.lesson === code).map((fact) => fact.attempt ?? 0);
  const attempt = card.version ? body.attempt : 1 + Math.max(made.length, ...made);
  return {
    ...card,
    body: { ...body, attempt },
    setting: { ...setting, tasks, scales: Object.fromEntries(Object.entries(scales).filter(([name]) => used.has(name))) },
  };
}
