// What was done aligned with what should have been done: fewest things left out, put in, taken
// for one another and neighbours swapped, no part edited twice (optimal string alignment).

/** Fewest edits that turn one sequence into the other. */
export const distance = (expected, done) => costsOf(expected, done).at(-1).at(-1);

/** One alignment of least cost, in order: `{ edit, expected, done }`; keeping comes first. */
export function steps(expected, done) {
  const costs = costsOf(expected, done);
  const found = [];
  let [i, j] = [expected.length, done.length];
  while (i || j) {
    const edit = lastEdit(costs, expected, done, i, j);
    if (edit === "swapped") {
      found.push({ edit, expected: expected[i - 2], done: expected[i - 1] });
      [i, j] = [i - 2, j - 2];
      continue;
    }
    const [back, forth] = [edit !== "put in", edit !== "left out"];
    found.push({ edit, expected: back ? expected[i - 1] : null, done: forth ? done[j - 1] : null });
    [i, j] = [i - Number(back), j - Number(forth)];
  }
  return found.reverse();
}

function costsOf(expected, done) {
  const rows = [Array.from({ length: done.length + 1 }, (_, place) => place)];
  for (let i = 1; i <= expected.length; i += 1) {
    const row = [i];
    for (let j = 1; j <= done.length; j += 1) {
      const other = Number(expected[i - 1] !== done[j - 1]);
      const cost = Math.min(rows[i - 1][j] + 1, row[j - 1] + 1, rows[i - 1][j - 1] + other);
      row.push(isCrossed(expected, done, i, j) ? Math.min(cost, rows[i - 2][j - 2] + 1) : cost);
    }
    rows.push(row);
  }
  return rows;
}

const isCrossed = (expected, done, i, j) =>
  i > 1 &&
  j > 1 &&
  expected[i - 1] === done[j - 2] &&
  expected[i - 2] === done[j - 1] &&
  expected[i - 1] !== expected[i - 2];

/** The edit that ends a cheapest alignment of the first i with the first j. */
function lastEdit(costs, expected, done, i, j) {
  const cost = costs[i][j];
  if (i && j && expected[i - 1] === done[j - 1] && cost === costs[i - 1][j - 1]) return "kept";
  if (isCrossed(expected, done, i, j) && cost === costs[i - 2][j - 2] + 1) return "swapped";
  if (i && cost === costs[i - 1][j] + 1) return "left out";
  if (j && cost === costs[i][j - 1] + 1) return "put in";
  return "other";
}
