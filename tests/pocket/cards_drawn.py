"""Cards as people leave them: tidy ones, and ones with rubbish typed into every field.

A card follows from its number alone, so that what fails once fails again.
"""

from dataclasses import dataclass
from random import Random

from gradebook.records.card import Card, Entry, FlowStep
from gradebook.records.rules import Setting
from gradebook.records.timesheet import LINES
from syllabus.checklist import AircraftType
from syllabus.course import Task
from syllabus.errors import GENERIC
from syllabus.limits import Reading
from tests.pocket import typed
from tests.pocket.settings_drawn import settings_drawn
from tests.pocket.typed import LISTS

TYPED = {
    "hours": LISTS["hours"],
    "count": LISTS["counts"],
    "nm": LISTS["miles"],
    "yes": ["y", "0", ""],
}
TIDY = {
    "hours": ["0.2", "1:00", "1,25", "2.05"],
    "count": ["0", "3", "12"],
    "nm": ["52.5", "120", "0"],
    "yes": ["y"],
}


def drawn(number: int) -> tuple[int, Card]:
    """The place of a setting, and a card for it."""
    dice = Random(number)  # noqa: S311 - repeatable, not secret
    place = dice.randrange(len(settings_drawn()))
    return place, _Drawing(dice, settings_drawn()[place], tidy=dice.random() < 0.5).card()


@dataclass(frozen=True, slots=True)
class _Drawing:
    """One card being drawn: `tidy` when it may well be signed."""

    dice: Random
    setting: Setting
    tidy: bool

    def card(self) -> Card:
        """A whole card."""
        course = self.setting.course
        code = self._code([kind.code for kind in course.aircraft])
        aircraft = course.aircraft_type(code)
        return Card(
            flown_on="2026-05-05" if self.tidy else typed.one_of(self.dice, LISTS["days"]),
            aircraft=code,
            ident=" KM-H\u00e91\xa0" if self.tidy else self._words()[:22],
            entries=tuple(self._entries()),
            readings=self._readings(aircraft),
            steps=self._steps(aircraft),
            times=self._times(),
            remarks=self._words(),
            outcome=self._code([one.value for one in self.setting.outcomes()]),
            next_lesson=self._code(["", *(one.code for one in course.lessons)]),
        )

    def _maybe(self, chance: float) -> bool:
        return self.dice.random() < chance

    def _code(self, codes: list[str]) -> str:
        """One of the codes, or what is none."""
        is_known = self.tidy or self._maybe(0.8)
        return self.dice.choice(codes if is_known else typed.NAMES)

    def _words(self) -> str:
        return typed.rubbish(self.dice) if self.tidy else typed.words(self.dice)

    def _entries(self) -> list[Entry]:
        course = self.setting.course
        tasks = [course.task_by_code[asked.task] for asked in self.setting.tasks]
        made = [self._entry(task) for task in tasks if self.tidy or self._maybe(0.7)]
        if not self.tidy and self._maybe(0.3):
            made.append(self._entry(self.dice.choice(course.tasks)))
            made.append(Entry(self.dice.choice(typed.NAMES), "perform", errors=("PF-01",)))
        return made

    def _entry(self, task: Task) -> Entry:
        scale = task.scale
        codes = [*(level.code for level in scale.levels), *scale.not_counted, ""]
        level = scale.standard if self._maybe(0.6) else self._code(codes)
        errors = [error.code for error in (*task.errors, *GENERIC.values())]
        marks = self.dice.choices(errors, k=self.dice.choice([0, 0, 0, 1, 2, 3]))
        if not self.tidy and self._maybe(0.05):
            marks.append(self.dice.choice(typed.NAMES))
        remark = "Late \U0001f681 e\u0301. " if self.tidy else self._words()
        return Entry(task.code, level, remark, tuple(marks), self._maybe(0.3))

    def _readings(self, aircraft: AircraftType | None) -> dict[str, str]:
        known = [one for one in (aircraft.readings if aircraft else ()) if self._maybe(0.6)]
        found = {one.code: self._reading(aircraft, one) for one in known}
        if not self.tidy and self._maybe(0.2):
            found[self.dice.choice(typed.NAMES[:4])] = typed.spaced(self.dice, "40")
        return found

    def _reading(self, aircraft: AircraftType | None, reading: Reading) -> str:
        if reading.unit == "yes-no":
            return self._typed(["yes", "no", "Y", "n"], LISTS["answers"])
        ends = _ends(aircraft, reading)
        if self.tidy:
            return f"{self.dice.choice(ends or [0]) + self.dice.choice([0, 0.1, -0.1, 9]):.12g}"
        if self._maybe(0.6):
            return typed.spaced(self.dice, typed.number_near(self.dice, ends, reading.unit))
        return typed.one_of(self.dice, LISTS["numbers"])

    def _typed(self, right: list[str], rough: list[str]) -> str:
        return self.dice.choice(right) if self.tidy else typed.one_of(self.dice, rough)

    def _times(self) -> dict[str, str]:
        usual = {"dual": "2.5", "solo": "1:00", "ground": "0.5", "distance_nm": "300"}
        lines = [line for line in LINES if self._maybe(0.4)]
        made = {line.field: self._typed(TIDY[line.kind], TYPED[line.kind]) for line in lines}
        return made | usual if self.tidy else made

    def _steps(self, aircraft: AircraftType | None) -> tuple[FlowStep, ...]:
        """A stretch of the flow, some of it left out, done elsewhere, twice or prompted."""
        codes = [item.code for item in (aircraft.items if aircraft else ())]
        start = self.dice.randint(0, len(codes))
        run = codes[start : start + self.dice.randint(0, 25)]
        for _ in range(self.dice.choice([0, 0, 1, 2, 3, 5])):
            run = self._disturbed(run, codes)
        if not self.tidy and self._maybe(0.1):
            run = [*run, *typed.NAMES[:3]]
        hows = ["done", "done", "done", "done", "prompted", "skipped"]
        return tuple(FlowStep(code, self.dice.choice(hows)) for code in run)

    def _disturbed(self, run: list[str], codes: list[str]) -> list[str]:
        """The run with one thing out of order."""
        if len(run) < 2:
            return run
        made = list(run)
        at, to = self.dice.randrange(len(run) - 1), self.dice.randrange(len(run))
        act = self.dice.choice(["neighbours", "swap", "out", "move", "again", "any", "back"])
        if act == "neighbours":
            made[at], made[at + 1] = made[at + 1], made[at]
        elif act == "swap":
            made[at], made[to] = made[to], made[at]
        elif act == "back":
            made[at : at + 5] = made[at : at + 5][::-1]
        else:
            put = {"move": made[at], "again": run[to], "any": self.dice.choice(codes)}
            if act in ("out", "move"):
                del made[at]
            made[to:to] = [put[act]] if act in put else []
        return made


def _ends(aircraft: AircraftType | None, reading: Reading) -> list[float]:
    """Where the limits on a reading, or on what is worked out of it, lie."""
    if aircraft is None:
        return []
    of = {one.code for one in aircraft.arithmetic if reading.code in one.of} | {reading.code}
    bounds = [limit.bounds for limit in aircraft.limits if limit.of in of]
    ends = [(one.at_least, one.at_most, one.above, one.below) for one in bounds]
    return [end for four in ends for end in four if end is not None]
