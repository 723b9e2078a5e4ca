"""Errors that recur in one student more than the school makes them, and which to believe.

Counts mislead: with many students and errors, some are marked twice by chance alone. Here each
rate is drawn towards the school's for the same error, and a list is cut where its expected
share of false findings reaches a stated level. The frequentist test stands beside it.
"""

from collections.abc import Container, Hashable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincc, betaincinv, gammaincinv
from scipy.stats import binom

from gradebook.analytics.discoveries import bayes_discoveries, benjamini_hochberg
from gradebook.analytics.shrinkage import Beta, Gamma, fit_betas, fit_gamma, gamma_means

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Places = NDArray[np.intp]
Student = TypeVar("Student", bound=Hashable)
Error = TypeVar("Error", bound=Hashable)


class Finding(StrEnum):
    """What to do about an error: act on it, watch for it, or nothing yet."""

    ACT = "act"
    WATCH = "watch"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class RecurrenceRules:
    """What recurs: a rate above `factor` times the school's mean, and above `floor`.

    `act` and `watch` are the expected false shares of the two lists; `coverage` is that of the
    interval of each rate.
    """

    factor: float = 2.0
    floor: float = 0.10
    act: float = 0.10
    watch: float = 0.20
    coverage: float = 0.80


@dataclass(frozen=True, slots=True)
class SchoolRate:
    """How often a school makes one error: what was counted, and the rates fitted to it."""

    marks: int
    opportunities: int
    students: int
    fit: Beta


@dataclass(frozen=True, slots=True)
class Recurrence:
    """One error of one student and why it is, or is not, a finding.

    `student` and `error` are the row and column. `rate` is the student's, drawn towards the
    school's mean, `low` and `high` its credible interval, `chance` the probability that it is
    above `threshold`. `p_value` is that of as many marks or more at the other students' rate,
    `p_adjusted` the same after Benjamini-Hochberg over all that were tested.
    """

    student: int
    error: int
    marks: int
    opportunities: int
    rate: float
    low: float
    high: float
    threshold: float
    chance: float
    p_value: float
    p_adjusted: float
    finding: Finding
    school: SchoolRate


@dataclass(frozen=True, slots=True)
class Tally(Generic[Student, Error]):
    """Marks and opportunities by student (rows) and error (columns), in order of appearance."""

    students: tuple[Student, ...]
    errors: tuple[Error, ...]
    marks: Counts
    opportunities: Counts


@dataclass(frozen=True, slots=True)
class HourlyRate:
    """Events of one student in `hours`; the rate per hour drawn towards the school's.

    `low` and `high` are the credible interval of the rate.
    """

    count: float
    hours: float
    rate: float
    low: float
    high: float
    school: Gamma


def tally(
    students: Sequence[Student], errors: Sequence[Error], marked: Sequence[bool]
) -> Tally[Student, Error]:
    """Counts from one entry per opportunity: whose, for which error, and whether it was made.

    ValueError unless all three are of one length. Nothing in, empty tables out.
    """
    rows = {one: place for place, one in enumerate(dict.fromkeys(students))}
    columns = {one: place for place, one in enumerate(dict.fromkeys(errors))}
    marks = np.zeros((len(rows), len(columns)), np.int64)
    opportunities = np.zeros_like(marks)
    for student, error, made in zip(students, errors, marked, strict=True):
        cell = rows[student], columns[error]
        opportunities[cell] += 1
        marks[cell] += bool(made)
    return Tally(tuple(rows), tuple(columns), marks, opportunities)


def recurrences(
    marks: ArrayLike,
    opportunities: ArrayLike,
    rules: RecurrenceRules = RecurrenceRules(),
    told: Container[Finding] = tuple(Finding),
) -> tuple[Recurrence, ...]:
    """Every error that a student could make, likeliest to recur first; of findings `told` only.

    `marks[s, e]` of `opportunities[s, e]`, whole numbers, student by error. Those without an
    opportunity are left out; with one or two the rate stays near the school's. ValueError
    unless 0 <= marks <= opportunities.

    The rates of one error are a beta distribution over students (`fit_betas`). The lists are
    Bayesian false-discovery lists (`bayes_discoveries`): each the longest whose expected false
    share is within its level.
    """
    x, n = (np.asarray(one, dtype=np.int64) for one in (marks, opportunities))
    if x.ndim != 2 or x.shape != n.shape:
        raise ValueError("Marks and opportunities are tables of one shape.")
    school = _school_rates(x, n)
    student, error = np.nonzero(n > 0)
    counted = x[student, error], n[student, error], error
    rates = _rates(*counted, fits=[one.fit for one in school], rules=rules)
    p_value, likely = _upper_tail(x, n)[student, error], rates[-1]
    findings = _lists(likely, rules)
    order = np.argsort(-likely, kind="stable").tolist()
    kept = np.array([at for at in order if findings[at] in told], int)
    columns = (student, error, *counted[:2], *rates, p_value, benjamini_hochberg(p_value))
    values = (column[kept].tolist() for column in columns)
    shown = (findings[at] for at in kept.tolist())
    return tuple(map(Recurrence, *values, shown, (school[at] for at in error[kept].tolist())))


def _rates(
    marks: Counts,
    opportunities: Counts,
    error: Places,
    fits: list[Beta],
    rules: RecurrenceRules,
) -> tuple[Floats, ...]:
    """Rate, low, high, threshold and chance of each count of an error [N], as `Recurrence`.

    Most students have the same few counts of an error: each is worked out once.
    """
    wide = int(opportunities.max(initial=0)) + 1
    count = (error * wide + opportunities) * wide + marks
    _, once, back = np.unique(count, return_index=True, return_inverse=True)
    x, n, error = marks[once], opportunities[once], error[once]
    alpha = x + np.array([one.a for one in fits])[error]
    beta = n - x + np.array([one.b for one in fits])[error]
    limits = [min(1.0, max(rules.factor * one.mean, rules.floor)) for one in fits]
    threshold, tail = np.array(limits)[error], (1 - rules.coverage) / 2
    low, high = (betaincinv(alpha, beta, one) for one in (tail, 1 - tail))
    found = alpha / (alpha + beta), low, high, threshold, betaincc(alpha, beta, threshold)
    return tuple(one[back] for one in found)


def _school_rates(marks: Counts, opportunities: Counts) -> list[SchoolRate]:
    """What each error's column shows."""
    sums = marks.sum(axis=0), opportunities.sum(axis=0), (opportunities > 0).sum(axis=0)
    columns = (one.tolist() for one in sums)
    return list(map(SchoolRate, *columns, fit_betas(marks, opportunities)))


def _lists(likely: Floats, rules: RecurrenceRules) -> list[Finding]:
    """The finding of each from its probability: on the strict list, the longer, or neither."""
    act, watch = (bayes_discoveries(likely, level) for level in (rules.act, rules.watch))
    longer = np.where(watch, Finding.WATCH, Finding.NONE)
    return [Finding(one) for one in np.where(act, Finding.ACT, longer).tolist()]


def _upper_tail(marks: Counts, opportunities: Counts) -> Floats:
    """Chance of as many marks or more at the rate of the other students: exact binomial.

    That rate is (marks + 1/2) / (opportunities + 1), so that others without a mark do not make
    a single one impossible.
    """
    others = marks.sum(axis=0) - marks, opportunities.sum(axis=0) - opportunities
    return np.asarray(binom.sf(marks - 1, opportunities, (others[0] + 0.5) / (others[1] + 1)))


def hourly_rates(
    counts: ArrayLike, hours: ArrayLike, coverage: float = 0.80
) -> tuple[HourlyRate, ...]:
    """Events per hour of each student, drawn towards the school's (gamma-Poisson), in order.

    `counts[s]` in `hours[s]`. Without hours a student has the school's rate; without students
    there are none. ValueError for a negative count or time, or a count without time.
    """
    school = fit_gamma(counts, hours)
    x, t = (np.asarray(one, dtype=np.float64) for one in (counts, hours))
    tails = (1 - coverage) / 2, (1 + coverage) / 2
    low, high = (gammaincinv(x + school.shape, tail) / (t + school.rate) for tail in tails)
    columns = (x, t, gamma_means(x, t, school), low, high)
    return tuple(map(HourlyRate, *(column.tolist() for column in columns), [school] * x.size))


def upper_bound_clean(n: int, confidence: float = 0.95) -> float:
    """Upper bound of an error's rate after n clean opportunities: 1 - (1 - confidence)^(1/n).

    Nothing seen (n = 0) bounds nothing: 1. ValueError for a negative n or a confidence outside
    (0, 1). Source: J. A. Hanley and A. Lippman-Hand, 'If nothing goes wrong, is everything all
    right?', JAMA 249 (1983) 1743-1745, whose 3/n it is nearly.
    """
    if n < 0 or not 0 < confidence < 1:
        raise ValueError("Opportunities are not negative; confidence lies between 0 and 1.")
    return 1 - (1 - confidence) ** (1 / n) if n else 1.0
