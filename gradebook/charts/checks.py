"""What stage checks say of instructors: grades just before one, and what the check found."""

from collections.abc import Iterable, Mapping
from functools import partial
from typing import TypeVar

from gradebook.analytics.estimate import Estimate
from gradebook.analytics.examined import FEWEST, Confirmation, Examined, Rise
from gradebook.analytics.shrinkage import Drawn
from gradebook.charts.chart import Chart
from gradebook.formats import count, share
from gradebook.pictures import figures, findings
from gradebook.pictures.numbers import Numbers
from gradebook.pictures.school import caterpillar
from gradebook.pictures.series import Gauge, SeverityRow
from gradebook.records.examined import LAST

Told = TypeVar("Told", Rise, Confirmation)

BEFORE = Gauge(
    unit="standard deviations of a grade",
    low="lower before checks",
    high="higher",
    counted="lesson",
    act=("grades", "grade"),
    lower="lower just before stage checks",
    higher="higher just before stage checks",
    nobody="No instructor grades clearly higher or lower just before stage checks",
    none="Too few stage checks",
)
CHECKED = Gauge(
    unit="levels",
    low="below the check",
    high="above the check",
    counted="pair",
    act=("graded", "graded"),
    lower="below the next stage check",
    higher="above the next stage check",
    nobody="No instructor graded clearly above or below the next stage check",
    none="Too few stage checks",
)


def before_checks(found: Examined, names: Mapping[str, str]) -> Chart:
    """Whose grades lie further above the needle just before a check than in other lessons."""
    told = _by_name(found.rises, names)
    rows = [
        _row(name, one.drawn, one.before, clear=one.finding.flagged)
        for name, one in told
        if one.drawn is not None
    ]
    lessons = sum(one.before for _, one in told)
    return Chart(
        "before-checks",
        findings.severity(rows, BEFORE),
        f"{count(lessons, 'lesson')} just before {count(found.checks, 'stage check')}",
        caterpillar(rows, BEFORE),
        _before_numbers(told),
        partial(figures.severity_figure, rows, BEFORE),
        why=(
            f"For the last {LAST} lessons before a stage check: how far the grades lie above "
            "what the needle expected of the student that day, less the same in the "
            "instructor's other lessons. "
            f"{_school(found.rise)} Each is drawn towards the school by how little is known; "
            "fewer than "
            f"{FEWEST} lessons before checks say nothing. Filled: more than chance over all "
            "instructors and both questions (Benjamini and Hochberg, 5 %). Students may also "
            "rise to a check: ask before judging."
        ),
    )


def checked(found: Examined, names: Mapping[str, str]) -> Chart:
    """Whose last grades lie above or below what the next check found."""
    told = _by_name(found.confirmations, names)
    rows = [
        _row(name, one.drawn, one.pairs, clear=one.finding.flagged)
        for name, one in told
        if one.drawn is not None
    ]
    pairs = sum(one.pairs for _, one in told)
    return Chart(
        "checked",
        findings.severity(rows, CHECKED),
        f"{count(pairs, 'pair')} of grades from {count(found.checks, 'stage check')}",
        caterpillar(rows, CHECKED),
        _checked_numbers(told),
        partial(figures.severity_figure, rows, CHECKED),
        why=(
            "Each task of a stage check: the last grade of it in training, by whoever gave it, "
            "against the grade of the check instructor; checks by the same person are left "
            f"out. {_school(found.direction)} Practice since then raises what the check finds, "
            "and last grades that were good by luck lower it: compare with that mean. Kappa "
            "(linear weights) is agreement beyond chance, 1 is full; its interval takes pairs "
            "of one check as separate and is too narrow. Fewer than "
            f"{FEWEST} checks say nothing of an instructor."
        ),
    )


def _by_name(told: Iterable[Told], names: Mapping[str, str]) -> list[tuple[str, Told]]:
    named = [(names.get(one.instructor, one.instructor), one) for one in told]
    return sorted(named, key=lambda pair: pair[0])


def _row(name: str, drawn: Drawn, n: int, *, clear: bool) -> SeverityRow:
    (low, high), (low95, high95) = drawn.interval(0.8), drawn.interval(0.95)
    return SeverityRow(
        name, drawn.value, low, high, low95=low95, high95=high95, n=n, clear=clear
    )


def _school(mean: Estimate) -> str:
    if mean.value is None:
        return ""
    value, low, high = _signed(mean)
    return f"The school's mean is {value} ({low} to {high})."


def _before_numbers(told: list[tuple[str, Rise]]) -> Numbers:
    columns = ("Instructor", "Lessons before checks", "Other lessons", *DIFFERENCE)
    rows = ((name, str(one.before), str(one.others), *_difference(one)) for name, one in told)
    return Numbers(columns, tuple(rows))


def _checked_numbers(told: list[tuple[str, Confirmation]]) -> Numbers:
    agreement = ("Pairs", "Checks", "Same level", "Kappa", "95 % from", "95 % to")
    rows = (
        (
            name,
            *(str(one.pairs), str(one.checks), share(one.same), *_plain(one.kappa)),
            *_difference(one),
        )
        for name, one in told
    )
    return Numbers(("Instructor", *agreement, *DIFFERENCE), tuple(rows))


DIFFERENCE = (
    "Difference",
    "Difference 95 % from",
    "Difference 95 % to",
    "Drawn to the school",
    "Clearly different",
)


def _difference(one: Rise | Confirmation) -> tuple[str, ...]:
    if one.finding.estimate.value is None:
        return "", "", "", "", "too few"
    drawn = "" if one.drawn is None else f"{one.drawn.value:+.2f}"
    return *_signed(one.finding.estimate), drawn, "yes" if one.finding.flagged else "no"


def _signed(one: Estimate) -> tuple[str, ...]:
    return tuple(
        "" if end is None else f"{round(end, 2) + 0:+.2f}"
        for end in (one.value, one.low, one.high)
    )


def _plain(one: Estimate) -> tuple[str, ...]:
    return tuple("" if end is None else f"{end:.2f}" for end in (one.value, one.low, one.high))
