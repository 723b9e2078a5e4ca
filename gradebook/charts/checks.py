"""What stage checks say of instructors: grades just before one, and what the check found."""

from collections.abc import Iterable, Mapping
from functools import partial
from typing import TypeVar

from gradebook.analytics.estimate import Estimate
from gradebook.analytics.examined import FEWEST, Confirmation, Examined, Rise
from gradebook.analytics.shrinkage import Drawn
from gradebook.charts.chart import Chart
from gradebook.formats import count, decimal, share
from gradebook.pictures import figures, findings
from gradebook.pictures.numbers import Numbers
from gradebook.pictures.school import caterpillar
from gradebook.pictures.series import Gauge, SeverityRow
from gradebook.records.examined import LAST
from syllabus.saying import say

Told = TypeVar("Told", Rise, Confirmation)

BEFORE = Gauge(
    unit=say("standard deviations of a grade"),
    low=say("lower before checks"),
    high=say("higher"),
    counted="lesson",
    act=("grades", "grade"),
    lower=say("lower just before stage checks"),
    higher=say("higher just before stage checks"),
    nobody=say("No instructor grades clearly higher or lower just before stage checks"),
    none=say("Too few stage checks"),
)
CHECKED = Gauge(
    unit=say("levels"),
    low=say("below the check"),
    high=say("above the check"),
    counted="pair",
    act=("graded", "graded"),
    lower=say("below the next stage check"),
    higher=say("above the next stage check"),
    nobody=say("No instructor graded clearly above or below the next stage check"),
    none=say("Too few stage checks"),
)


def before_checks(found: Examined, names: Mapping[str, str]) -> Chart:
    """Whose grades lie further above the needle just before a check than in other lessons."""
    told = _by_name(found.rises, names)
    rows = [
        _row(name, one.drawn, one.before, clear=one.finding.flagged)
        for name, one in told
        if one.drawn is not None
    ]
    lessons = [one.before for _, one in told]
    behind = say(
        "{lessons} just before {checks}",
        lessons=count(sum(lessons), "lesson"),
        checks=count(found.checks, "stage check"),
    )
    return Chart(
        "before-checks",
        findings.severity(rows, BEFORE),
        _shown(behind, lessons, rows),
        caterpillar(rows, BEFORE),
        _before_numbers(told),
        partial(figures.severity_figure, rows, BEFORE),
        why=(
            say(
                "For the last {last} lessons before a stage check: how far the grades "
                "lie above what the needle expected of the student that day, less the "
                "same in the instructor's other lessons. {school} Each is drawn towards "
                "the school by how little is known; fewer than {fewest} lessons before "
                "checks say nothing. Filled: more than chance over all instructors and "
                "both questions (Benjamini and Hochberg, 5 %). Students may also rise to "
                "a check: ask before judging.",
                last=LAST,
                school=_school(found.rise),
                fewest=FEWEST,
            )
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
    pairs = [one.pairs for _, one in told]
    behind = say(
        "{pairs} of grades from {checks}",
        pairs=count(sum(pairs), "pair"),
        checks=count(found.checks, "stage check"),
    )
    return Chart(
        "checked",
        findings.severity(rows, CHECKED),
        _shown(behind, pairs, rows),
        caterpillar(rows, CHECKED),
        _checked_numbers(told),
        partial(figures.severity_figure, rows, CHECKED),
        why=(
            say(
                "Each task of a stage check: the last grade of it in training, by "
                "whoever gave it, against the grade of the check instructor; checks by "
                "the same person are left out. {school} Practice since then raises what "
                "the check finds, and last grades that were good by luck lower it: "
                "compare with that mean. Kappa (linear weights) is agreement beyond "
                "chance, 1 is full; its interval takes pairs of one check as separate "
                "and is too narrow. Fewer than {fewest} checks say nothing of an "
                "instructor.",
                school=_school(found.direction),
                fewest=FEWEST,
            )
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


def _shown(said: str, each: Iterable[int], rows: Iterable[SeverityRow]) -> str:
    """How many stand behind all, and of these behind the instructors the title counts."""
    shown = sum(row.n for row in rows)
    if shown in (0, sum(each)):
        return said
    return say("{said}, {shown} of them of the instructors shown", said=said, shown=shown)


def _school(mean: Estimate) -> str:
    if mean.value is None:
        return ""
    value, low, high = map(decimal, _signed(mean))
    return say(
        "The school's mean is {value} ({low} to {high}).", value=value, low=low, high=high
    )


def _before_numbers(told: list[tuple[str, Rise]]) -> Numbers:
    named = (say("Instructor"), say("Lessons before checks"), say("Other lessons"))
    rows = ((name, str(one.before), str(one.others), *_difference(one)) for name, one in told)
    return Numbers((*named, *DIFFERENCE), tuple(rows))


def _checked_numbers(told: list[tuple[str, Confirmation]]) -> Numbers:
    agreement = (
        say("Pairs"),
        say("Checks"),
        say("Same level"),
        say("Kappa"),
        say("95 % from"),
        say("95 % to"),
    )
    rows = (
        (
            name,
            *(str(one.pairs), str(one.checks), share(one.same), *_plain(one.kappa)),
            *_difference(one),
        )
        for name, one in told
    )
    return Numbers((say("Instructor"), *agreement, *DIFFERENCE), tuple(rows))


DIFFERENCE = (
    say("Difference"),
    say("Difference 95 % from"),
    say("Difference 95 % to"),
    say("Drawn to the school"),
    say("Clearly different"),
)


def _difference(one: Rise | Confirmation) -> tuple[str, ...]:
    if one.finding.estimate.value is None:
        return "", "", "", "", say("too few")
    drawn = "" if one.drawn is None else f"{one.drawn.value:+.2f}"
    return (
        *_signed(one.finding.estimate),
        drawn,
        say("yes") if one.finding.flagged else say("no"),
    )


def _signed(one: Estimate) -> tuple[str, ...]:
    return tuple(
        "" if end is None else f"{round(end, 2) + 0:+.2f}"
        for end in (one.value, one.low, one.high)
    )


def _plain(one: Estimate) -> tuple[str, ...]:
    return tuple("" if end is None else f"{end:.2f}" for end in (one.value, one.low, one.high))
