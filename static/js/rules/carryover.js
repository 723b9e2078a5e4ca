// What a student's lessons leave open and put on a card: as `gradebook/records/carryover.py`.
// A past is what `past_json` of `gradebook/records/pocket.py` gives; facts are as its history.

const BELOW = "below standard";
const UNCOUNTED = {
  "not-observed": "not observed",
  "left-blank": "left blank",
  incomplete: "incomplete",
  discontinued: "discontinued",
};
const NOT_GRADED = "not graded";

/** Facts oldest first; those of one day in the order given. */
export const inOrder = (history) =>
  history.toSorted((one, other) => (one.flown_on < other.flown_on ? -1 : Number(one.flown_on > other.flown_on)));

/** Every task left open: a Map from its code to target, origin_lesson, since and why. */
export function carried(past, history) {
  const standing = new Map();
  for (const fact of inOrder(history)) {
    for (const result of resultsOf(past, fact)) {
      const before = standing.get(result.task);
      standing.delete(result.task);
      const still = after(past, before, fact, result);
      if (still) standing.set(result.task, still);
    }
  }
  return standing;
}

function resultsOf(past, fact) {
  const graded = fact.grades.filter(([task]) => scaleOf(past, task));
  const seen = new Set(fact.grades.map(([task]) => task));
  const asked = Object.entries(past.lessons[fact.lesson] ?? {}).filter(([task]) => !seen.has(task));
  return [
    ...graded.map(([task, level, rank, target]) =>
      ({ task, target, rank, why: rank === null ? (UNCOUNTED[level] ?? NOT_GRADED) : BELOW })),
    ...asked.map(([task, target]) => ({ task, target, rank: null, why: NOT_GRADED })),
  ];
}

const scaleOf = (past, code) => past.flow.find(([task]) => task === code)?.[1];

const reaches = (rank, wanted) => rank !== null && rank >= wanted;

/** Rank of a target; of the standard where the scale no longer has that level. */
function rankOf(past, task, target) {
  const { ranks, standard } = past.scales[scaleOf(past, task)];
  return ranks[target] ?? ranks[standard];
}

function after(past, open, fact, { task, target, rank, why }) {
  const wanted = rankOf(past, task, target);
  const before = open && !reaches(rank, rankOf(past, task, open.target)) ? open : null;
  if (reaches(rank, wanted)) return before;
  const now = { target, origin_lesson: fact.lesson, since: fact.flown_on, why };
  if (!before) return now;
  const openRank = rankOf(past, task, before.target);
  const isGraver = why === BELOW && before.why !== BELOW;
  const isNew = wanted > openRank || (wanted === openRank && isGraver);
  return isNew ? { ...now, since: before.since } : before;
}

/** The last counted level of every task graded so far. */
function lastLevels(history) {
  const counted = inOrder(history).flatMap((fact) => fact.grades.filter(([, , rank]) => rank !== null));
  return new Map(counted.map(([task, level]) => [task, level]));
}

/** What a lesson's card asks, in flow order: task, target, carried (or null), last (or null). */
export function cardTasks(past, lesson, kind, history) {
  const isCheck = kind === "stage-check";
  const open = carried(past, history);
  const asked = past.lessons[lesson];
  const last = lastLevels(history);
  const shown = past.flow.map(([task]) => task).filter((task) => Object.hasOwn(asked, task) || (!isCheck && open.has(task)));
  return shown.map((task) => {
    const still = open.get(task) ?? null;
    const target = still && !isCheck ? higher(past, task, still.target, asked[task]) : asked[task];
    return { task, target, carried: still, last: last.get(task) ?? null };
  });
}

function higher(past, task, still, target) {
  if (target === undefined) return still;
  return rankOf(past, task, target) >= rankOf(past, task, still) ? target : still;
}
