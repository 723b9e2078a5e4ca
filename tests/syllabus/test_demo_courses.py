"""The courses that are shipped: without faults, and worth teaching from."""

import pytest

from syllabus.course import Course, Phase
from syllabus.reading import load_course, read_course, read_folder
from tests.run import ROOT

COURSES = ROOT / "seed_data" / "courses"
NAMES = ("private-airplane", "private-helicopter")


@pytest.fixture(scope="module", params=NAMES)
def course(request) -> Course:
    return load_course(read_folder(COURSES / request.param))


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_course_has_no_faults(name):
    assert read_course(read_folder(COURSES / name))[1] == ()


def test_a_demo_course_is_a_whole_course(course):
    assert len(course.lessons) >= 25
    assert len(course.tasks) >= 45
    assert all(lesson.tasks for lesson in course.lessons)


def test_every_ground_task_knows_the_errors_made_in_it(course):
    few = {
        task.code: len(task.errors)
        for task in course.tasks
        if task.phase is Phase.GROUND and len(task.errors) < 6
    }
    assert few == {}


def test_every_task_is_taught_in_some_lesson(course):
    taught = {asked.task for lesson in course.lessons for asked in lesson.tasks}
    assert [task.code for task in course.tasks if task.code not in taught] == []


def test_every_aircraft_says_that_it_is_invented(course):
    assert course.aircraft
    assert all("nvented" in kind.notice for kind in course.aircraft)
    assert all(limit.source == "invented" for kind in course.aircraft for limit in kind.limits)
