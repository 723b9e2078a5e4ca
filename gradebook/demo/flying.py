"""One simulated lesson: how it went, as a card an instructor might have filled in."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from random import Random

from gradebook.demo.scenario import Staff, Student
from gradebook.records.card import Card, Entry, FlowStep
from gradebook.records.carryover import CardTask
from gradebook.records.rules import Setting
from syllabus.checklist import AircraftType
from syllabus.course import LessonKind, Task
from syllabus.errors import Severity
from syllabus.limits import Limit
from syllabus.scales import NOT_OBSERVED

BELOW_REMARKS = (
    "Coaching needed on the sequence; knows the words, not yet the flow.",
    "Late on the correction, twice.",
    "Rushed. Slow down and say each item aloud.",
    "Better at the end than at the start of the lesson.",
    "Attention inside too long; lookout suffers.",
)
GOOD_REMARKS = (
    "Calm and ahead of the aircraft.",
    "Own error found and fixed.",
    "Good briefing.",
)
FLEETS = {"RH": ("KM-H1", "KM-H2"), "ASEL": ("KM-A1", "KM-A2", "KM-A3")}
CUTS = (-1.2, -0.5, 0.5, 2.2)
"""Skill above which a grade is two, one, no level short of the standard, and one above it."""

SLIP = {
    Severity.SAFETY_CRITICAL: 0.005,
    Severity.PROCEDURAL: 0.04,
    Severity.TECHNIQUE: 0.05,
}


@dataclass
class Pilot:
    """A student while simulated: what they have practised so far."""

    student: Student
    random: Random
    practised: Counter[str] = field(default_factory=Counter)

    def skill(self, task: Task) -> float:
        """Skill in a task now: rises with practice, levels off; 0 is about half way."""
        n = self.practised[task.code]
        if self.student.plateau:
            n = min(n, 4)
        growth: float = 3.1 * (1 - 0.72 ** (n * self.student.learning))
        return self.student.ability + growth - 0.9


def fly(pilot: Pilot, teacher: Staff, setting: Setting, day: date) -> Card:
    """The card of one lesson flown that day."""
    tasks = {asked.task: setting.course.task_by_code[asked.task] for asked in setting.tasks}
    entries = tuple(
        _entry(pilot, teacher, tasks[asked.task], asked, setting) for asked in setting.tasks
    )
    for entry in entries:
        pilot.practised[entry.task] += 1
    aircraft = setting.course.aircraft[0] if setting.flies else None
    return Card(
        flown_on=day.isoformat(),
        aircraft=aircraft.code if aircraft else "",
        ident=pilot.random.choice(FLEETS[setting.course.category]) if aircraft else "",
        entries=entries,
        readings=_readings(pilot, aircraft, tasks) if aircraft else {},
        steps=_flow(pilot, aircraft, tasks) if aircraft else (),
        times=_times(pilot, setting),
        remarks=pilot.random.choice(("", "", *GOOD_REMARKS)),
    )


def _entry(
    pilot: Pilot, teacher: Staff, task: Task, asked: CardTask, setting: Setting
) -> Entry:
    random = pilot.random
    is_check = setting.lesson.kind is LessonKind.STAGE_CHECK
    missed = 0.0 if pilot.student.careful or is_check else 0.02
    if random.random() < missed:
        return Entry(task.code, NOT_OBSERVED)
    seen = pilot.skill(task) - teacher.severity + random.gauss(0, 0.35 if is_check else 0.6)
    levels = task.scale.levels
    places = {level.code: place for place, level in enumerate(levels)}
    target, standard = places[asked.target], places[task.scale.standard]
    reached = standard + sum(seen > cut for cut in CUTS) - 3
    level = levels[max(0, target - 2, min(len(levels) - 1, target + 1, reached))]
    errors = _errors(pilot, task, seen)
    below = task.scale.meets(level.code, asked.target) is False
    remark = (
        random.choice(BELOW_REMARKS) if below and (not errors or random.random() < 0.4) else ""
    )
    return Entry(task.code, level.code, remark, errors)


def _errors(pilot: Pilot, task: Task, seen: float) -> tuple[str, ...]:
    if pilot.student.careful:
        return ()
    random, found = pilot.random, []
    for habit in pilot.student.habits:
        if habit.task == task.code and random.random() < habit.rate:
            found.append(habit.error)
    for error in task.errors:
        rate = SLIP[error.severity] * (2.2 if seen < 0 else 0.5)
        if error.code not in found and random.random() < rate / max(1, len(task.errors) / 4):
            found.append(error.code)
    return tuple(found[:3])


def _times(pilot: Pilot, setting: Setting) -> dict[str, str]:
    lesson, random = setting.lesson, pilot.random
    planned = lesson.flight_minutes
    times = {"ground": f"{max(6, lesson.ground_minutes) / 60:.1f}"}
    if not planned:
        return times
    flown = f"{max(0.5, planned / 60 + random.uniform(-0.1, 0.3)):.1f}"
    solo = lesson.kind is LessonKind.SOLO
    times["solo" if solo else "dual"] = flown
    words = f"{lesson.title} {lesson.objective}".lower()
    if solo:
        times["pic"] = flown
        times["tower_landings"] = "1"
    times["day_landings"] = str(random.randint(1, 6))
    if "night" in words:
        times |= {"night": flown, "night_landings": "5", "day_landings": "0"}
    if "instrument" in words:
        times["instrument"] = "0.8"
    if "test preparation" in words or "practical test" in words:
        times["test_preparation"] = "yes"
    if "cross-country" in words:
        times |= {"cross_country": flown, "distance_nm": "162", "longest_leg_nm": "56"}
        times["landing_points"] = "3"
    return times


def _readings(pilot: Pilot, aircraft: AircraftType, tasks: dict[str, Task]) -> dict[str, str]:
    """A plausible reading for each limit of the lesson's tasks; rarely one outside it."""
    wanted = {one.code: one for one in aircraft.readings if one.task in tasks}
    limits = {one.of: one for one in aircraft.limits}
    return {
        code: _reading(pilot.random, reading.unit, limits.get(code))
        for code, reading in wanted.items()
        if code in limits
    }


def _reading(random: Random, unit: str, limit: Limit | None) -> str:
    if limit is None or unit == "yes-no":
        return "yes" if limit is None or limit.expect is None else limit.expect
    bounds = limit.bounds
    low = bounds.at_least if bounds.at_least is not None else bounds.above
    high = bounds.at_most if bounds.at_most is not None else bounds.below
    if low is None and high is None:
        return "1"
    if low is None or high is None:
        edge = low if low is not None else high or 0.0
        away = abs(edge) * random.uniform(0.02, 0.3)
        return f"{edge + away if high is None else edge - away:.0f}"
    return f"{low + (high - low) * random.uniform(0.3, 0.75):.0f}"


def _flow(pilot: Pilot, aircraft: AircraftType, tasks: dict[str, Task]) -> tuple[FlowStep, ...]:
    """Now and then the instructor ticks one checklist as it is performed."""
    if pilot.student.careful or pilot.random.random() > 0.3:
        return ()
    parts = [block.checklist for block in aircraft.blocks if block.items[0].task in tasks]
    part = pilot.random.choice(parts or [aircraft.blocks[0].checklist])
    return tuple(
        FlowStep(
            item.code, pilot.random.choices(("done", "prompted", "skipped"), (88, 7, 5))[0]
        )
        for block in aircraft.blocks
        if block.checklist == part
        for item in block.items
    )
