"""Fitting the needle's parameters to a school's grades.

Penalised prequential likelihood: the log chance of each grade one step ahead, with priors on
what is shared, and each task and instructor shrunk to the mean of theirs by empirical Bayes.
A. P. Dawid, 'Statistical theory: the prequential approach', JRSS A 147 (1984) 278-292.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from gradebook.analytics.needle.draft import Draft, expectations, first_draft
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.foretold import calibration_slope
from gradebook.analytics.needle.likelihood import Likelihood, Slope, likelihood
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.parameters import Hand, Parameters, Spread, TaskCurve
from gradebook.analytics.needle.replay import replay

SPEEDS = 3
"""So many learning speeds a fit follows; a replay follows more of them."""
STAGES = ((4, 8_000, 8_000), (2, 24_000, 24_000), (2, 24_000, 96_000))
"""Rounds, and on whole students of about how many grades the shared and the own are fitted."""
MOST_ROUNDS = sum(rounds for rounds, *_ in STAGES)
SLOPE_ROWS = 24_000
"""On whole students of about how many grades the calibration slope is fitted."""
LONGEST = 1_500
"""Only so many first grades of one student are fitted on; all are replayed."""
NUDGE = 1e-3
NEAR = 0.1
"""A stage is done when a step is this small a part of the standard errors."""
DAMPING, LARGEST_STEP = 0.7, 0.6
STRIDE = 11
CURVE_SPREADS = (0.5, 0.5, 0.5)
HAND_SPREADS = (0.4, 0.2)
LEAST_SPREAD = 0.05

Report = Callable[[str], None]


@dataclass(slots=True)
class _Own:
    """How values of owners [k, owners] scatter: around `mean` [k], standard deviation `sd` [k].

    `error` [k, owners] is the standard error of each.
    """

    mean: Floats
    sd: Floats
    error: Floats


def fit(log: GradeLog, start: Parameters, report: Report | None = None) -> Parameters:
    """Parameters fitted to a log, from `start` (whose cuts must be those of the log's scales).

    Fewer than two grades leave `start` as it is. Nothing is random: the same log gives the
    same parameters. `report` is told of every round.
    """
    if len(log) < 2:
        return start
    ordered = replace(start, cuts={name: start.cuts[name] for name in log.scales})
    draft = first_draft(ordered, log.tasks, log.instructors)
    prior = expectations(draft, ordered.cuts)
    tasks = _own(draft.curves, CURVE_SPREADS)
    hands = _own(draft.hands, HAND_SPREADS)
    hands.mean[:] = 0.0
    turn, whole = 0, _shortened(log)
    nodes = min(SPEEDS, start.nodes)
    for rounds, for_all, for_each in STAGES:
        short, long = (_some_students(whole, rows) for rows in (for_all, for_each))
        judge = likelihood(short, nodes, len(prior[0]) + 1)
        judges = likelihood(long, nodes, 6)
        for _ in range(rounds):
            draft, moved = _shared_step(judge, draft, prior)
            draft, moved_too = _own_step(judges, draft, long, (tasks, hands), turn)
            turn += 1
            if report:
                report(f"round {turn} of at most {MOST_ROUNDS}")
            if max(moved, moved_too) < NEAR:
                break
    found = _parameters(log, ordered, draft, tasks, hands)
    judged = replay(_some_students(whole, SLOPE_ROWS), found)
    return replace(found, slope=calibration_slope(judged, found))


def _own(values: Floats, spreads: tuple[float, ...]) -> _Own:
    means = values.mean(axis=1) if values.shape[1] else np.zeros(len(values))
    return _Own(means, np.array(spreads), np.ones_like(values) * np.array(spreads)[:, None])


def _shortened(log: GradeLog) -> GradeLog:
    lengths = np.bincount(log.student, minlength=len(log.students))
    starts = np.cumsum(lengths) - lengths
    return log.rows(np.arange(len(log)) - starts[log.student] < LONGEST)


def _some_students(log: GradeLog, rows: int) -> GradeLog:
    """Evenly spaced students with about so many grades together; all when there are fewer."""
    if len(log) <= rows:
        return log
    present = np.unique(log.student)
    wanted = max(1, round(len(present) * rows / len(log)))
    chosen = np.zeros(len(log.students), bool)
    chosen[present[np.linspace(0, len(present) - 1, wanted).round().astype(int)]] = True
    return log.of_students(chosen)


def _shared_step(
    judge: Likelihood, draft: Draft, prior: tuple[Floats, Floats]
) -> tuple[Draft, float]:
    """One scoring step on what all students and tasks share, and its length.

    The length is in standard errors, as a root mean square over the parameters.
    """
    centre, doubt = prior
    here = draft.vector()
    moved = (draft.moved(here + row) for row in NUDGE * np.eye(len(here)))
    found = judge.shared([one.values() for one in (draft, *moved)], NUDGE)
    slope = found.slope - (here - centre) / doubt**2
    step = np.linalg.solve(found.information + np.diag(doubt**-2), slope)
    furthest = float(np.max(np.abs(step / doubt)))
    step = step / max(1.0, furthest)  # no further than a doubt
    length = float(np.sqrt(max(0.0, float(step @ slope)) / len(step)))
    return draft.moved(here + step), length


def _own_step(
    judge: Likelihood, draft: Draft, log: GradeLog, own: tuple[_Own, _Own], turn: int
) -> tuple[Draft, float]:
    """A damped step on every task and instructor at once, each shrunk to its kind."""
    tasks, hands = own
    ways = [NUDGE * _signs(one.shape[1], turn) for one in (draft.curves, draft.hands)]
    sets = [draft, *_nudged(draft, "curves", ways[0]), *_nudged(draft, "hands", ways[1])]
    found = judge.own([one.values() for one in sets], *ways)
    damping = min(DAMPING, 2 / (turn + 1))  # so that the patterns average out
    curves, far = _scored(draft.curves, found[0], tasks, damping)
    grips, far_too = _scored(draft.hands, found[1], hands, damping)
    draft = _centred(replace(draft, curves=curves, hands=grips), log)
    _spread_again(tasks, draft.curves)
    _spread_again(hands, draft.hands, centred=True)
    return draft, max(far, far_too)


def _signs(owners: int, turn: int) -> Floats:
    """Half of the owners up and half down, another half each turn.

    Moved all one way they would be taken for a better student or a better day, and the bend of
    the likelihood for much less than it is.
    """
    patterns = (1 << max(1, (owners - 1).bit_length())) - 1
    shared = np.arange(owners) & (1 + turn * STRIDE % patterns)
    return np.where(np.bitwise_count(shared) & 1, -1.0, 1.0)


def _nudged(draft: Draft, name: str, ways: Floats) -> Iterator[Draft]:
    """Each row of the draft's `name` moved by `ways` [owners]."""
    values = getattr(draft, name)
    for row in range(len(values)):
        moved = values.copy()
        moved[row] += ways
        yield replace(draft, **{name: moved})


def _scored(values: Floats, found: Slope, own: _Own, damping: float) -> tuple[Floats, float]:
    """The values [k, owners] a damped step on, and its length in standard errors."""
    precision = 1 / own.sd[:, None] ** 2
    slope = found.slope - (values - own.mean[:, None]) * precision
    bend = found.information + precision
    step = np.clip(damping * slope / bend, -LARGEST_STEP, LARGEST_STEP)
    own.error = 1 / np.sqrt(bend)
    length = float(np.sqrt((step**2 * bend).mean())) if step.size else 0.0
    return values + step, length


def _spread_again(own: _Own, values: Floats, centred: bool = False) -> None:
    """How far owners lie apart, their own uncertainty counted in (one step of EM)."""
    if values.shape[1] < 2:
        return
    if not centred:
        own.mean = values.mean(axis=1)
    square = ((values - own.mean[:, None]) ** 2 + own.error**2).mean(axis=1)
    own.sd = np.maximum(LEAST_SPREAD, np.sqrt(square))


def _centred(draft: Draft, log: GradeLog) -> Draft:
    """Severity sums to zero over the grades; what is taken from it moves the tasks."""
    counts = np.bincount(log.instructor, minlength=draft.hands.shape[1])
    shift = float((draft.hands[0] * counts).sum() / counts.sum())
    hands, curves = draft.hands.copy(), draft.curves.copy()
    hands[0] -= shift
    curves[:2] -= shift
    return replace(draft, hands=hands, curves=curves)


def _parameters(
    log: GradeLog, start: Parameters, draft: Draft, tasks: _Own, hands: _Own
) -> Parameters:
    values = draft.values()
    counts = np.bincount(log.instructor, minlength=len(log.instructors))
    middle = draft.curves.mean(axis=1)
    return Parameters(
        cuts={
            name: tuple(float(cut) for cut in cuts)
            for name, cuts in zip(log.scales, draft.cuts(), strict=True)
        },
        spread=Spread(*(float(one) for one in values.spread)),
        tasks={
            name: TaskCurve(float(begin), float(end), float(expit(rate)), *map(float, errors))
            for name, (begin, end, rate), errors in zip(
                log.tasks, draft.curves.T, tasks.error[:2].T, strict=True
            )
        },
        instructors={
            name: Hand(float(severity), float(np.exp(spread)), float(error), int(n))
            for name, (severity, spread), error, n in zip(
                log.instructors, draft.hands.T, hands.error[0], counts, strict=True
            )
        },
        typical=TaskCurve(
            float(middle[0]),
            float(middle[1]),
            float(expit(middle[2])),
            *map(float, tasks.sd[:2]),
        ),
        grades=len(log),
        students=len(np.unique(log.student)),
        nodes=start.nodes,
    )
