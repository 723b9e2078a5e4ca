"""What the needle says of one student today. Pure: beliefs in, answers out."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from gradebook.analytics import readiness, suggestion
from gradebook.analytics.needle import outlook, prospect
from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.outlook import Outlook, Skill
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.needle.prospect import Prospect
from gradebook.records.graded import pace, shape, task_key
from gradebook.records.remembering import once
from gradebook.records.values import History
from syllabus.course import Course, Lesson, Stage
from syllabus.saying import say

HALF = 0.5
"""So many standard deviations from the average student are worth words."""


@dataclass(frozen=True)
class Needle:
    """One student's tasks on a day; `beliefs` is None before the first counted grade."""

    course: Course
    parameters: Parameters
    beliefs: Beliefs | None
    history: History
    on: date
    checks: readiness.Calibration = readiness.UNCALIBRATED

    @cached_property
    def foretold(self) -> Sequence[str]:
        """The tasks that can be foretold: their standard is not the lowest level."""
        return [task.code for task in self.course.tasks if shape(task.scale)]

    @cached_property
    def outlooks(self) -> Mapping[str, Outlook]:
        """The outlook of every task of the course, by its code."""
        found = outlook.outlooks(self._skill(self.foretold), self.parameters)
        return {code: found[task_key(self.course, code)] for code in self.foretold}

    @cached_property
    def pace(self) -> float:
        """Days between two gradings of the same task, as this student flies."""
        return pace(self.history)

    @cached_property
    def _prospects(self) -> dict[str, Prospect]:
        return {}

    def prospect(self, task: str) -> Prospect | None:
        """Attempts to proficiency in one task; None where it cannot be foretold."""
        if task not in self.outlooks:
            return None
        return once(self._prospects, task, lambda: self._prospect(task))

    def _prospect(self, task: str) -> Prospect:
        found = prospect.prospects(self._skill([task]), self.parameters, self.pace)
        return found[task_key(self.course, task)]

    @cached_property
    def _checks(self) -> dict[str, readiness.CheckChance]:
        return {}

    def check(self, stage: Stage) -> readiness.CheckChance:
        """The chance that every task of a stage check meets the standard today."""
        return once(self._checks, stage.code, lambda: self._check(stage))

    def _check(self, stage: Stage) -> readiness.CheckChance:
        return readiness.check_chance(self._skill(self._asked(stage)), self.parameters)

    @cached_property
    def level_words(self) -> str:
        """How the student stands over all tasks, in words; half a deviation is a difference."""
        if self.beliefs is None:
            return say("nothing known yet")
        mean, doubt = outlook.ability(self.beliefs)
        reach = mean / self.parameters.spread.ability
        sure = abs(mean) > outlook.Z80 * doubt
        if abs(reach) < HALF or not sure:
            return say("no clear difference from the average student of this school")
        return (
            say("above average, which lifts every task")
            if reach > 0
            else (say("below average, which lowers every task"))
        )

    def days_until_stale(self, task: str) -> int:
        """Days without flying it after which a task is stale."""
        return outlook.days_until_stale(self.parameters, self.outlooks[task].attempts)

    def suggest(
        self, lesson: Lesson, carried: Collection[str], watched: Collection[str]
    ) -> tuple[suggestion.Pick, ...]:
        """What to fly in the next lesson, within its minutes, the most urgent first.

        Chosen among the lesson's tasks, those carried over or watched, and stale ones.
        """
        stale = [code for code, one in self.outlooks.items() if one.stale]
        wanted = {asked.task for asked in lesson.tasks} | {*carried, *watched, *stale}
        codes = [task.code for task in self.course.tasks if task.code in wanted]
        codes = [code for code in codes if code in self.outlooks]
        key = {task_key(self.course, code): code for code in codes}
        names = {code: name for name, code in key.items()}
        wish = suggestion.Wish(
            minutes=float(lesson.ground_minutes + lesson.flight_minutes),
            each={names[code]: minutes(self.course, code) for code in codes},
            watched={names[code] for code in watched if code in names},
            stale={names[code] for code in stale if code in names},
        )
        picks = suggestion.suggest(self._skill(codes), self.parameters, wish)
        return tuple(suggestion.renamed(pick, key[pick.task]) for pick in picks)

    def _asked(self, stage: Stage) -> list[str]:
        known = set(self.foretold)
        return [asked.task for asked in stage.check.tasks if asked.task in known]

    def _skill(self, codes: Sequence[str]) -> Skill:
        keys = [task_key(self.course, code) for code in codes]
        return outlook.skill(self.beliefs, self.parameters, keys, self.on.toordinal())


def minutes(course: Course, task: str) -> float:
    """The minutes one attempt of a task takes, as the course plans it.

    Each lesson's minutes divided by its tasks, averaged over the lessons that have it; at
    least one minute.
    """
    shares = [
        (lesson.ground_minutes + lesson.flight_minutes) / len(lesson.tasks)
        for lesson in course.lessons
        if any(asked.task == task for asked in lesson.tasks)
    ]
    return max(1.0, sum(shares) / len(shares)) if shares else 1.0
