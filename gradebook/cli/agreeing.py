"""`windtee agreement`: do raters who graded the same things mean the same by a grade."""

import argparse
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import combinations
from pathlib import Path
from textwrap import wrap

import numpy as np

from gradebook.analytics.agreement import (
    Level,
    Table,
    krippendorff_alpha,
    marginals,
    raw_agreement,
    tally,
)
from gradebook.analytics.estimate import Estimate
from gradebook.analytics.icc import intraclass_correlations
from gradebook.analytics.kappa import Weights, cross_table, fleiss_kappa, weighted_kappa
from gradebook.cli.console import say, warn
from gradebook.exchange.lines import RowFault
from gradebook.exchange.ratings import Ratings, read_ratings

LEVELS = (Level.NOMINAL, Level.ORDINAL, Level.INTERVAL)
WEIGHTS = {
    Level.NOMINAL: (Weights.UNWEIGHTED,),
    Level.ORDINAL: (Weights.LINEAR, Weights.QUADRATIC),
    Level.INTERVAL: (Weights.LINEAR, Weights.QUADRATIC),
}
MOST_GRADES = 12  # columns of the table of grades given
HOW_TO_READ = (
    "Alpha is 1 when raters always agree and 0 when they agree no more often than chance would "
    "have them; by custom .80 and above is firm, .667 to .80 tentative, and below that the "
    "raters do not mean the same by a grade."
)


def agreement_options(command: argparse.ArgumentParser) -> None:
    """RATINGS.csv --level LEVEL [--json]."""
    command.add_argument(
        "ratings",
        type=Path,
        metavar="RATINGS.csv",
        help="one row a unit, one column a rater, blanks allowed; a first column may be `unit`",
    )
    command.add_argument(
        "--level",
        required=True,
        choices=[level.value for level in LEVELS],
        help="what grades are: names, ranks, or measurements",
    )
    command.add_argument("--json", action="store_true", help="print JSON")
    command.set_defaults(run=agreement)


def agreement(chosen: argparse.Namespace) -> int:
    """Print every measure of agreement; 2 when the file cannot be read, each fault named."""
    level = Level(chosen.level)
    try:
        data = chosen.ratings.read_bytes()
    except OSError as error:
        warn(f"{chosen.ratings}: {error.strerror}.")
        return 2
    read = read_ratings(data, numeric=level is not Level.NOMINAL)
    if read.faults:
        warn(
            *(f"{chosen.ratings}: {_fault_words(fault).rstrip('.')}." for fault in read.faults)
        )
        return 2
    result = _measured(read, level)
    if chosen.json:
        say(json.dumps(result.as_plain(), indent=2, ensure_ascii=False))
    else:
        say(*result.lines())
    return 0


def _fault_words(fault: RowFault) -> str:
    where = f"line {fault.line}" if fault.line else ""
    where += f', column "{fault.column}"' if fault.column else ""
    return f"{where}: {fault.words}" if where else fault.words


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure of agreement: its name, whose agreement, over how many units."""

    name: str
    raters: tuple[str, ...]
    units: int
    estimate: Estimate

    def line(self, width: int) -> str:
        """The measure as a line of the table, or with the reason why it has no value."""
        numbers = (self.estimate.value, self.estimate.low, self.estimate.high)
        cells = "".join(f"{'-' if one is None else f'{one:.3f}':>9}" for one in numbers)
        return f"{self.label:<{width}}{cells}{self.units:>7}  {self.estimate.why}".rstrip()

    @property
    def label(self) -> str:
        """Name and, for a pair, the pair."""
        return f"{self.name}: {' and '.join(self.raters)}" if self.raters else self.name


@dataclass(frozen=True, slots=True)
class Result:
    """All measures of one file. `given` holds how often each rater gave each grade."""

    level: Level
    units: int
    raters: tuple[str, ...]
    blanks: int
    equal: int
    pairs: int
    given: dict[str, dict[str, int]]
    measures: tuple[Measure, ...]

    def as_plain(self) -> dict[str, object]:
        """The result as JSON takes it."""
        whole = asdict(self)
        whole["level"] = self.level.value
        whole["confidence"] = 0.95
        for plain in whole["measures"]:
            plain.update(plain.pop("estimate"))
        return whole

    def lines(self) -> Iterator[str]:
        """The result as text."""
        yield f"Raters {len(self.raters)}, units {self.units}, blanks {self.blanks}."
        yield f"Grades taken as {self.level.value}."
        share = f" ({self.equal / self.pairs:.0%})" if self.pairs else ""
        yield f"Pairs of grades that are the same: {self.equal} of {self.pairs}{share}."
        yield ""
        width = max(len(measure.label) for measure in self.measures)
        yield f"{'95 % intervals':<{width}}{'value':>9}{'low':>9}{'high':>9}{'units':>7}"
        yield from (measure.line(width) for measure in self.measures)
        yield ""
        yield from self._given_lines()
        yield from wrap(HOW_TO_READ, 88)

    def _given_lines(self) -> Iterator[str]:
        grades = list(next(iter(self.given.values()), {}))
        if not grades or len(grades) > MOST_GRADES:
            return
        name = max(len("grades given"), *map(len, self.raters))
        wide = max(5, *(len(grade) + 2 for grade in grades))
        yield f"{'grades given':<{name}}" + "".join(f"{grade:>{wide}}" for grade in grades)
        for rater, counts in self.given.items():
            yield f"{rater:<{name}}" + "".join(f"{n:>{wide}}" for n in counts.values())
        yield ""


def _measured(read: Ratings, level: Level) -> Result:
    table, names = _as_numbers(read, level)
    raw = raw_agreement(table)
    _, counts = marginals(table)
    return Result(
        level=level,
        units=len(table),
        raters=read.raters,
        blanks=int(np.isnan(table).sum()),
        equal=raw.equal,
        pairs=raw.pairs,
        given={
            rater: dict(zip(names, map(int, row), strict=True))
            for rater, row in zip(read.raters, counts, strict=True)
        },
        measures=tuple(_measures(table, read.raters, level)),
    )


def _as_numbers(read: Ratings, level: Level) -> tuple[Table, tuple[str, ...]]:
    """The grades as numbers, and what each distinct number is called, ascending."""
    words = np.array(read.cells, dtype=object).reshape(len(read.units), len(read.raters))
    if level is Level.NOMINAL:
        names = sorted({word for row in read.cells for word in row if word})
        code = {"": np.nan, **{name: float(place) for place, name in enumerate(names)}}
    else:
        code = {word: float(word or "nan") for row in read.cells for word in row}
        names = [f"{one:.12g}" for one in sorted({one for one in code.values() if one == one})]
    table = np.array([[code[word] for word in row] for row in words], dtype=float)
    return table.reshape(words.shape), tuple(names)


def _measures(table: Table, raters: tuple[str, ...], level: Level) -> Iterator[Measure]:
    values, counts = tally(table)
    twice = int((counts.sum(axis=1) > 1).sum())
    yield Measure("Krippendorff's alpha", (), twice, krippendorff_alpha(table, level))
    scores = values if level is Level.INTERVAL else None
    for weights in WEIGHTS[level]:
        for one, other in combinations(range(len(raters)), 2):
            crossed = cross_table(table[:, one], table[:, other], values)
            estimate = weighted_kappa(crossed, weights, scores)
            pair = (raters[one], raters[other])
            yield Measure(f"Kappa, {weights.value}", pair, int(crossed.sum()), estimate)
    complete = int((~np.isnan(table)).all(axis=1).sum())
    yield Measure("Fleiss' kappa", (), complete, fleiss_kappa(table))
    if level is Level.NOMINAL:
        none = Estimate(None, why="Names of grades have no intraclass correlation.")
        yield Measure("ICC", (), complete, none)
        return
    for form, estimate in intraclass_correlations(table).items():
        yield Measure(f"ICC{form}", (), complete, estimate)
