"""Attempts to proficiency and what became of it at the stage check."""

from dataclasses import replace

import pytest

from gradebook.records.attempts import attempts_of, checked
from gradebook.records.graded import StudentFlights
from gradebook.records.values import GradeFact
from syllabus.course import LessonKind
from syllabus.reading import load_course
from tests.builders import a_lesson_fact
from tests.small_course import FILES


@pytest.fixture(scope="module")
def course():
    return load_course(FILES)


def flown(course, levels: str, check_at: int | None = None) -> StudentFlights:
    """A student graded in hover: + at the standard, - below, ? not observed."""
    scale = course.task_by_code["hover"].scale
    below = scale.levels[0].code
    codes = {"+": scale.standard, "-": below, "?": "not-observed"}
    history = []
    for at, sign in enumerate(levels):
        code = codes[sign]
        grade = GradeFact("hover", code, scale.rank(code), scale.standard, scale.meets(code))
        one = replace(
            a_lesson_fact(at + 1),
            grades=(grade,),
            kind=LessonKind.STAGE_CHECK if at == check_at else LessonKind.DUAL,
        )
        history.append(one)
    return StudentFlights("ana", course, tuple(history))


def test_proficient_is_the_attempt_that_completes_the_run_the_course_asks_for(course):
    run = "+" * course.consecutive
    (found,) = attempts_of({"ana": [flown(course, f"-?-{run}-")]})
    assert (found.attempts, found.proficient) == (2 + course.consecutive, True)


def test_who_never_gets_there_counts_as_long_as_they_flew(course):
    (found,) = attempts_of({"ana": [flown(course, "--?-")]})
    assert (found.attempts, found.proficient) == (3, False)


@pytest.mark.parametrize("levels", ["", "?"])
def test_what_was_never_graded_is_left_out(course, levels):
    assert attempts_of({"ana": [flown(course, levels)]}) == ()
    assert checked([[flown(course, levels)]]) == ()


def test_the_first_check_judges_what_was_proven_before_it(course):
    run = "+" * course.consecutive
    (found,) = checked([[flown(course, f"{run}-", check_at=course.consecutive)]])
    assert (found.task, found.proven, found.failed) == ("hover", True, True)
    (found,) = checked([[flown(course, f"-+{run}", check_at=1)]])
    assert (found.proven, found.failed) == (course.consecutive == 0, False)
