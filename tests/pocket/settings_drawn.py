"""Settings that cards are drawn for: lessons of every course, with pasts behind them."""

from datetime import date, timedelta
from functools import cache
from random import Random

from gradebook.records import carryover
from gradebook.records.rules import Setting
from gradebook.records.values import GradeFact, LessonFact, Outcome
from syllabus.course import Course, Lesson
from syllabus.reading import load_course, read_folder
from tests import course_files, small_course
from tests.run import ROOT

ENROLLED = date(2026, 3, 2)
TODAY = date(2026, 5, 31)
SHIPPED = ROOT / "seed_data" / "courses"


def courses() -> list[Course]:
    """The two courses that are shipped and the two small ones of the tests."""
    files = [read_folder(path) for path in sorted(SHIPPED.iterdir())]
    return [load_course(one) for one in (*files, course_files.FILES, small_course.FILES)]


@cache
def settings_drawn() -> tuple[Setting, ...]:
    """Some lessons of every course, with nothing and with a mixed past behind them."""
    found = []
    for course in courses():
        some = course.lessons[:: 1 + len(course.lessons) // 8]
        checks = [stage.check for stage in course.stages]
        for place, lesson in enumerate(dict.fromkeys((*some, *checks))):
            past = _past(course, lesson, _dice(place)) if place % 2 else ()
            tasks = carryover.card_tasks(course, lesson, past)
            found.append(Setting(course, lesson, tasks, ENROLLED, TODAY))
    return tuple(found)


def _dice(seed: int) -> Random:
    return Random(seed)  # noqa: S311 - repeatable, not secret


def _past(course: Course, lesson: Lesson, dice: Random) -> tuple[LessonFact, ...]:
    """Every lesson before this one, flown once, with grades of every kind."""
    before = course.lessons[: course.lessons.index(lesson)]
    return tuple(_fact(course, one, place, dice) for place, one in enumerate(before, 1))


def _fact(course: Course, lesson: Lesson, place: int, dice: Random) -> LessonFact:
    grades = []
    for asked in lesson.tasks:
        scale = course.task_by_code[asked.task].scale
        level = dice.choice([*(one.code for one in scale.levels), *scale.not_counted])
        meets = scale.meets(level, asked.target)
        grades.append(GradeFact(asked.task, level, scale.rank(level), asked.target, meets))
    return LessonFact(
        record_id=f"{place:032x}",
        lesson=lesson.code,
        kind=lesson.kind,
        flown_on=ENROLLED + timedelta(days=place),
        sequence=place,
        attempt=1,
        instructor="b" * 32,
        outcome=Outcome.COMPLETE,
        acknowledged=True,
        grades=tuple(grades),
    )
