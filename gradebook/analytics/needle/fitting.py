"""Fitting the needle's parameters to a school's grades.

Penalised prequential likelihood: the log chance of each grade one step ahead, with priors on
what is shared, and each task and instructor shrunk to the mean of theirs by empirical Bayes.
A. P. Dawid, 'Statistical theory: the prequential approach', JRSS A 147 (1984) 278-292.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from gradebook.analytics.needle.draft import Draft, expectations, first_draft
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.likelihood import likelihood
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.parameters import Hand, Parameters, Spread, TaskCurve

ROUNDS, ITERATIONS, SWEEPS = 3, 12, 3
SHARED_ROWS = 24_000
"""What all tasks share is fitted on whole students up to about so many grades."""
OWN_ROWS = 400_000
"""Each task and instructor is fitted on whole students up to about so many grades."""
LONGEST = 1_500
"""Only so many first grades of one student are fitted on; all are replayed."""
NUDGE = 1e-3
CURVE_NUDGE, HAND_NUDGE = 0.15, 0.1
DAMPING, LARGEST_STEP = 0.7, 0.6
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
    centre, doubt = expectations(draft, ordered.cuts)
    short = _some_students(_shortened(log), SHARED_ROWS)
    long = _some_students(_shortened(log), OWN_ROWS)
    tasks = _own(draft.curves, CURVE_SPREADS)
    hands = _own(draft.hands, HAND_SPREADS)
    hands.mean[:] = 0.0
    for turn in range(ROUNDS):
        draft = _fit_shared(short, draft, (centre, doubt), start.nodes)
        draft = _fit_own(long, draft, tasks, hands, start.nodes)
        if report:
            report(f"round {turn + 1} of {ROUNDS}")
    return _parameters(log, ordered, draft, tasks, hands)


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


def _fit_shared(log: GradeLog, draft: Draft, prior: tuple[Floats, Floats], nodes: int) -> Draft:
    """A few quasi-Newton steps on what all students and tasks share."""
    centre, doubt = prior
    judge = likelihood(log, nodes, len(centre) + 1)

    def cost(vector: Floats) -> tuple[float, Floats]:
        nudged = [vector, *(vector + row for row in NUDGE * np.eye(len(vector)))]
        fits = judge.total([draft.moved(one).values() for one in nudged])
        strain = (vector - centre) / doubt
        slope = (fits[1:] - fits[0]) / NUDGE - strain / doubt
        return float(0.5 * strain @ strain - fits[0]), -slope

    begin = draft.vector()
    bounds = [(c - 4 * d, c + 4 * d) for c, d in zip(centre, doubt, strict=True)]
    found = minimize(
        cost,
        begin,
        jac=True,
        bounds=bounds,
        method="L-BFGS-B",
        options={"maxiter": ITERATIONS, "maxfun": 2 * ITERATIONS},
    )
    return draft.moved(np.asarray(found.x))


def _fit_own(log: GradeLog, draft: Draft, tasks: _Own, hands: _Own, nodes: int) -> Draft:
    """Damped Newton steps on every task and instructor at once, each shrunk to its kind."""
    tasks.mean = draft.curves.mean(axis=1)
    by_task, by_hand = (
        likelihood(log, nodes, 1 + 2 * len(one)) for one in (draft.curves, draft.hands)
    )
    for turn in range(SWEEPS):
        ways = CURVE_NUDGE * _signs(draft.curves.shape[1], turn)
        fits = by_task.by_task([one.values() for one in _nudged(draft, "curves", ways)])
        curves = _newton(draft.curves, fits, ways, tasks)
        steps = np.full(draft.hands.shape[1], HAND_NUDGE)
        fits = by_hand.by_hand([one.values() for one in _nudged(draft, "hands", steps)])
        hands_now = _newton(draft.hands, fits, steps, hands)
        draft = _centred(replace(draft, curves=curves, hands=hands_now), log)
        _spread_again(tasks, draft.curves)
        hands.mean[:] = 0.0
        _spread_again(hands, draft.hands, centred=True)
    return draft


def _signs(owners: int, turn: int) -> Floats:
    """Half of the owners up and half down, another half each turn.

    Moved all one way they would be taken for a better student or a better day, and the bend of
    the likelihood for much less than it is.
    """
    return np.where((np.arange(owners) >> turn) & 1, -1.0, 1.0)


def _nudged(draft: Draft, name: str, ways: Floats) -> list[Draft]:
    """The draft, then each row of its `name` moved by `ways` [owners], and against them."""
    found, values = [draft], getattr(draft, name)
    for row in range(len(values)):
        for way in (ways, -ways):
            moved = values.copy()
            moved[row] += way
            found.append(replace(draft, **{name: moved}))
    return found


def _newton(values: Floats, fits: Floats, nudge: Floats, own: _Own) -> Floats:
    """One damped step; `fits` [1 + 2 k, owners]: as it is, then both ways, row by row."""
    moved = values.copy()
    for row in range(len(values)):
        here, up, down = fits[0], fits[1 + 2 * row], fits[2 + 2 * row]
        precision = 1 / own.sd[row] ** 2
        slope = (up - down) / (2 * nudge) - (values[row] - own.mean[row]) * precision
        bend = np.maximum(0.0, -(up - 2 * here + down) / nudge**2) + precision
        moved[row] += np.clip(DAMPING * slope / bend, -LARGEST_STEP, LARGEST_STEP)
        own.error[row] = 1 / np.sqrt(bend)
    return moved


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
            name: TaskCurve(float(begin), float(end), float(expit(rate)), float(error))
            for name, (begin, end, rate), error in zip(
                log.tasks, draft.curves.T, tasks.error[0], strict=True
            )
        },
        instructors={
            name: Hand(float(severity), float(np.exp(spread)), float(error), int(n))
            for name, (severity, spread), error, n in zip(
                log.instructors, draft.hands.T, hands.error[0], counts, strict=True
            )
        },
        typical=TaskCurve(
            float(middle[0]), float(middle[1]), float(expit(middle[2])), float(tasks.sd[0])
        ),
        grades=len(log),
        students=len(np.unique(log.student)),
        nodes=start.nodes,
    )
