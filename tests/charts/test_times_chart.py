"""Attempts to proficiency: which tasks take longer than planned, and which come first."""

from gradebook.charts.school import slowest, times
from gradebook.records.attempts import TaskAttempts
from syllabus.reading import load_course
from tests.small_course import FILES

COURSE = load_course(FILES)
# Planned in the small course: shutdown 1, preflight 3, hover 4.
ATTEMPTS = [
    TaskAttempts(student, task, attempts, proficient)
    for task, told in {
        "preflight": [(2, True), (2, True), (3, True)],
        "shutdown": [(2, False), (3, False), (2, True)],
        "hover": [(1, False), (2, False), (2, False)],
    }.items()
    for student, (attempts, proficient) in zip("abc", told, strict=True)
]


def test_what_half_have_not_reached_after_the_planned_attempts_comes_first():
    told = times(COURSE, ATTEMPTS)
    assert [one.task for one in told] == ["shutdown", "preflight", "hover"]
    assert [one.is_slow for one in told] == [True, False, False]


def test_the_slowest_are_drawn_with_what_is_known_of_them():
    assert slowest(COURSE, ATTEMPTS).title == (
        "Shutdown: fewer than half were proficient by attempt 3 (n = 3 students); "
        "Preflight inspection: half were proficient by attempt 2 (n = 3 students)"
    )
