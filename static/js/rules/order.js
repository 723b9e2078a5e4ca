// How far one order agrees with another: what was moved, by how many edits, how much in all.

const FEWEST_ORDERED = 4;

/** What was moved, as few as possible, and Kendall's tau-b of all that was done (or null). */
export function agreement(expected, done) {
  const place = new Map(expected.map((code, at) => [code, at]));
  const inside = done.filter((code) => place.has(code));
  const kept = new Map();
  for (const at of longestInOrder(inside.map((code) => place.get(code)))) kept.set(inside[at], at);
  const when = new Map(inside.map((code) => [code, kept.get(code) ?? inside.indexOf(code)]));
  return {
    moved: [...when.keys()].filter((code) => !kept.has(code)),
    tau: kendallTau([...when].map(([code, at]) => [place.get(code), at])),
  };
}

/** Indexes of a longest run of places each above the one before (patience sorting). */
function longestInOrder(places) {
  const [piles, ends, before] = [[], [], []];
  places.forEach((place, index) => {
    const found = piles.findIndex((top) => top >= place);
    const pile = found < 0 ? piles.length : found;
    [piles[pile], ends[pile]] = [place, index];
    before.push(pile ? ends[pile - 1] : null);
  });
  const run = [];
  for (let at = ends.at(-1) ?? null; at !== null; at = before[at]) run.push(at);
  return run.reverse();
}

function kendallTau(ranks) {
  const signs = ranks.flatMap(([left, right], place) =>
    ranks.slice(place + 1).map(([later, laterToo]) => [Math.sign(later - left), Math.sign(laterToo - right)]));
  const one = signs.filter(([left]) => left).length;
  const other = signs.filter(([, right]) => right).length;
  if (ranks.length < FEWEST_ORDERED || !one || !other) return null;
  return signs.reduce((sum, [left, right]) => sum + left * right, 0) / Math.sqrt(one * other);
}

/** Fewest edits between two sequences, in Damerau's unrestricted form. */
export function damerauDistance(expected, done) {
  const far = expected.length + done.length;
  const costs = new Map();
  const name = (i, j) => `${i} ${j}`;
  const cost = (i, j) => {
    if (i < 0 || j < 0) return far;
    return i && j ? costs.get(name(i, j)) : i + j;
  };
  const lastRow = new Map();
  expected.forEach((wanted, above) => {
    const i = above + 1;
    let lastColumn = 0;
    done.forEach((got, left) => {
      const [j, row, column] = [left + 1, lastRow.get(got) ?? 0, lastColumn];
      if (wanted === got) lastColumn = j;
      const crossed = cost(row - 1, column - 1) + (i - row - 1) + 1 + (j - column - 1);
      const other = cost(i - 1, j - 1) + Number(wanted !== got);
      costs.set(name(i, j), Math.min(crossed, other, cost(i - 1, j) + 1, cost(i, j - 1) + 1));
    });
    lastRow.set(wanted, i);
  });
  return cost(expected.length, done.length);
}
