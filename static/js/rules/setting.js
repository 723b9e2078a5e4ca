// What a setting knows of tasks, scales, errors and aircraft.

const UNTOUCHED = { level: "", remark: "", errors: [], together: false };

/** The entry of a task on the card; an empty one when it has not been touched. */
export const entryOf = (card, task) =>
  card.entries.find((entry) => entry.task === task) ?? { task, ...UNTOUCHED };

/** The task of the card with this code, or undefined. */
export const taskOf = (setting, code) => setting.tasks.find((task) => task.code === code);

/** The scale of a task. */
export const scaleOf = (setting, task) => setting.scales[task.scale];

/** The aircraft type chosen on the card, or undefined. */
export const aircraftOf = (card, setting) =>
  setting.aircraft.find((kind) => kind.code === card.aircraft);

/** The catalogued or generic error of a task with this code, or undefined. */
export const errorOf = (setting, task, code) =>
  [...task.errors, ...setting.generic].find((error) => error.code === code);

/** Rank of a level; null for a state that is not counted or unknown. */
export const rank = (scale, code) =>
  scale.levels.find((level) => level.code === code)?.rank ?? null;

/** Whether a grade may carry this code: a level or a not-counted state of this scale. */
export const accepts = (scale, code) =>
  rank(scale, code) !== null || Object.hasOwn(scale.not_counted, code);

/** Whether a grade reaches the target (default: the standard); null when it is not counted. */
export function meets(scale, code, target) {
  const [reached, wanted] = [rank(scale, code), rank(scale, target || scale.standard)];
  return reached === null || wanted === null ? null : reached >= wanted;
}

/** The words people read for a level. */
export const wordsFor = (scale, code) =>
  scale.levels.find((level) => level.code === code)?.words ?? scale.not_counted[code] ?? code;
