// The outcome a card points to, and why; the instructor decides.

import { t } from "../words.js";
import { entryOf, meets, scaleOf } from "./setting.js";

/** The errors marked on the card that are in the catalogue: `{ task, error }`. */
export const marksOf = (card, setting) =>
  setting.tasks.flatMap((task) => {
    const { errors } = entryOf(card, task.code);
    const offered = [...task.errors, ...setting.generic];
    return offered.filter((one) => errors.includes(one.code)).map((error) => ({ task, error }));
  });

/** Whether the grade of a task reaches its target; null when it is not counted. */
export const standing = (card, setting, task) =>
  meets(scaleOf(setting, task), entryOf(card, task.code).level, task.target);

/** The outcome proposed and why. Only the lesson's own tasks count, not those carried in. */
export function proposal(card, setting) {
  const own = setting.tasks.filter((task) => setting.lesson.tasks.includes(task.code));
  const stands = own.map((task) => standing(card, setting, task));
  const counted = stands.filter((one) => one !== null).length;
  const seen = {
    counted,
    unseen: setting.lesson.tasks.length - counted,
    below: stands.filter((one) => one === false).length,
  };
  const isCritical = ({ error }) => error.severity === "safety-critical";
  const critical = marksOf(card, setting).filter(isCritical).length;
  return setting.lesson.kind === "stage-check" ? ofCheck(seen) : ofLesson(seen, critical);
}

function ofCheck({ unseen, below, counted }) {
  const tasks = tasksIn(counted);
  if (below) return said("failed", t("{below} of {tasks} below standard.", { below, tasks }));
  if (unseen) return said("discontinued", t("{tasks} not seen.", { tasks: tasksIn(unseen) }));
  return said("passed", t("All {tasks} to standard.", { tasks }));
}

function ofLesson({ unseen, below, counted }, critical) {
  const many = { below, tasks: tasksIn(counted) };
  const open = { tasks: tasksIn(unseen) };
  if (unseen)
    return said("incomplete", t("{tasks} of this lesson not graded or not observed.", open));
  if (critical) return said("repeat", criticalErrors(critical));
  if (3 * below > counted)
    return said("repeat", t("{below} of {tasks} below target, more than a third.", many));
  if (below) return said("complete", t("{below} of {tasks} below target, carried over.", many));
  return said("complete", t("All {tasks} at target.", many));
}

const said = (outcome, why) => ({ outcome, why });
const tasksIn = (n) => (n === 1 ? t("1 task") : t("{n} tasks", { n }));
const criticalErrors = (n) =>
  n === 1 ? t("1 safety-critical error marked.") : t("{n} safety-critical errors marked.", { n });
