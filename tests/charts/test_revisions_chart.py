"""Two revisions of a course side by side: what is clear is said, what is not is not."""

import pytest

from gradebook.charts.revisions import revisions
from gradebook.records.attempts import TaskAttempts
from gradebook.words import Language, speaking, spoken
from syllabus.reading import load_course
from tests.small_course import FILES

COURSE = load_course(FILES)
OLD, NEW = "revision 11111111 of 3 Mar 2025", "revision 22222222 of 3 Mar 2026"


def group(of: str, task: str, attempts: list[int], waiting: int = 0) -> list[TaskAttempts]:
    """Students who became proficient after these attempts, and some still training after 9."""
    done = [TaskAttempts(f"{of}-{at}", task, n, True) for at, n in enumerate(attempts)]
    return done + [TaskAttempts(f"{of}+{at}", task, 9, False) for at in range(waiting)]


def test_a_revision_that_takes_longer_is_named_with_the_task():
    slow, quick = [5, 6, 6, 7, 7, 8, 8, 9, 9, 9], [2, 3, 3, 3, 4, 4, 4, 5, 5, 5]
    old = [*group("o", "hover", quick), *group("o", "run-up", slow)]
    new = [*group("n", "hover", slow, 2), *group("n", "run-up", slow)]
    found = revisions(COURSE, {OLD: old, NEW: new})
    assert found.title == f"In {NEW} Hover takes more attempts than in {OLD} (2 tasks tested)"
    assert found.n == "22 students, 2 tasks in both"
    first = dict(zip(found.numbers.columns, found.numbers.rows[0], strict=True))
    assert first["Task"] == "Hover"
    assert first[f"{NEW}: students"] == "12"
    assert first[f"{NEW}: proficient"] == "10"
    assert (first[f"{OLD}: median attempts"], first[f"{NEW}: median attempts"]) == ("4", "8")
    assert first["Clearly different"] == "yes"
    assert found.numbers.rows[1][-1] == "no"
    with speaking(Language("de")):
        assert [spoken(row[-1]) for row in found.numbers.rows] == ["ja", "nein"]
    assert found.picture.count('class="chart-band"') == 2
    assert found.picture.count("still counted") == 2
    assert found.figure().count("95 % interval of revision") >= 2
    back = revisions(COURSE, {NEW: new, OLD: old})
    assert back.title.startswith(f"In {OLD} Hover takes fewer attempts than in {NEW}")


def test_no_clear_difference_is_said():
    times = [3, 3, 4, 5, 5, 6, 6, 7]
    both = {OLD: group("o", "hover", times), NEW: group("n", "hover", [*times, 8])}
    assert revisions(COURSE, both).title == (
        f"No task takes clearly more or fewer attempts in {NEW} than in {OLD} (1 task tested)"
    )


@pytest.mark.parametrize("n", [1, 2, 4])
def test_few_students_are_drawn_and_not_tested(n):
    both = {OLD: group("o", "hover", [2] * n), NEW: group("n", "hover", [9] * n)}
    found = revisions(COURSE, both)
    assert found.title.endswith("(0 tasks tested)")
    assert found.numbers.rows[0][-1] == "too few"


def test_revisions_without_a_task_in_common_are_not_compared():
    both = {OLD: group("o", "hover", [3, 4]), NEW: group("n", "run-up", [3, 4])}
    assert revisions(COURSE, both) is None
    assert revisions(COURSE, {OLD: [], NEW: []}) is None
    gone = {OLD: group("o", "no-longer", [3]), NEW: group("n", "no-longer", [3])}
    assert revisions(COURSE, gone) is None
