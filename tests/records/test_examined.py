"""Which lessons come just before a stage check, and which grades a check is held against."""

from dataclasses import replace

import pytest

from gradebook.records.examined import check_pairs, lessons_before
from gradebook.records.graded import StudentFlights, shapes, with_scales
from gradebook.records.trail import school_trail
from gradebook.records.values import GradeFact
from syllabus.course import LessonKind
from syllabus.reading import load_course
from tests.builders import a_lesson_fact
from tests.small_course import FILES

COURSE = load_course(FILES)
SCALE = COURSE.task_by_code["hover"].scale
CODES = {str(at): level.code for at, level in enumerate(SCALE.levels)} | {"?": "not-observed"}


def flown(*lessons: str, who: str = "ana") -> StudentFlights:
    """Lessons as `ben hover2 run-up3`, a day apart; a `!` after the name makes it a check."""
    history = []
    for day, told in enumerate(lessons, start=1):
        name, *grades = told.split()
        fact = a_lesson_fact(day, *(_grade(one) for one in grades))
        kind = LessonKind.STAGE_CHECK if name.endswith("!") else LessonKind.DUAL
        history.append(replace(fact, kind=kind, instructor=name.rstrip("!")))
    return StudentFlights(who, COURSE, tuple(history))


def _grade(told: str) -> GradeFact:
    task, code = told[:-1], CODES[told[-1]]
    return GradeFact(task, code, SCALE.rank(code), SCALE.standard, SCALE.meets(code))


def before(*flights: StudentFlights) -> list[tuple[str, bool]]:
    """(instructor, whether just before a check) of every training lesson."""
    known = with_scales(None, shapes([COURSE]))
    table = lessons_before(school_trail(flights, known))
    return list(zip(table["instructor"], table["before"], strict=True))


def pairs(*flights: StudentFlights) -> list[tuple[str, str, int, int]]:
    return [tuple(row) for row in check_pairs(flights).itertuples(index=False)]


def test_the_last_two_lessons_before_a_check_are_just_before_it():
    one = flown("ben hover0", "ben hover1", "dov hover2", "eve! hover3", "ben hover3")
    assert before(one) == [("ben", False), ("ben", True), ("dov", True), ("ben", False)]


def test_a_second_check_has_its_own_two_and_a_check_is_no_training_lesson():
    one = flown("ben hover1", "eve! hover1", "dov hover2", "eve! hover3", "eve! hover3")
    assert before(one) == [("ben", True), ("dov", True)]


def test_one_students_check_says_nothing_of_anothers_lessons():
    two = flown("ben hover1", "ben hover2", who="hal"), flown("dov! hover2", who="ana")
    assert before(*two) == [("ben", False), ("ben", False)]


@pytest.mark.parametrize("flights", [(), (flown("ben hover?"),)])
def test_without_a_counted_grade_there_is_no_lesson(flights):
    assert before(*flights) == []
    assert pairs(*flights) == []


def test_a_check_is_held_against_the_last_training_grade_of_each_task():
    one = flown("ben hover1 run-up2", "dov hover2", "eve! hover3 run-up2 shutdown3")
    # levels counted from the standard, which is the highest of four
    assert pairs(one) == [("dov", "r3", -1, 0), ("ben", "r3", -1, -1)]


def test_grades_that_were_not_counted_are_no_pair():
    assert pairs(flown("ben hover1", "ben hover?", "eve! hover3")) == [("ben", "r3", -2, 0)]
    assert pairs(flown("ben hover1", "eve! hover?")) == []


def test_an_examiner_is_not_held_against_himself():
    assert pairs(flown("ben hover1", "ben! hover3")) == []


def test_a_check_failed_and_flown_again_is_held_against_what_was_trained_between():
    one = flown("ben hover1", "eve! hover1", "dov hover3", "eve! hover3")
    assert pairs(one) == [("ben", "r2", -2, -2), ("dov", "r4", 0, 0)]
