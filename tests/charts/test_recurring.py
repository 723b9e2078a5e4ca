"""The tables behind recurring errors, against the opportunities of each student."""

from gradebook.charts.recurring import read_marks, recurring, together
from gradebook.records.values import ErrorFact, GradeFact
from gradebook.records.watchitems import chances
from syllabus.errors import Severity
from tests.builders import a_lesson_fact


def lesson(day, graded, *marked):
    """One lesson: `graded` tasks, `marked` as `task/error`; `?` before a task: not counted."""
    grades = (
        GradeFact(one.lstrip("?"), "a", None if one.startswith("?") else 1, "a", meets=None)
        for one in graded.split()
    )
    errors = (ErrorFact(*one.split("/"), Severity.TECHNIQUE) for one in marked)
    return a_lesson_fact(day, *grades, errors=tuple(errors))


HISTORIES = (
    (
        lesson(1, "hover run-up", "hover/x", "hover/y", "hover/x"),
        lesson(2, "?hover run-up"),
        lesson(3, "run-up", "hover/y", "run-up/x"),
    ),
    (),
    (lesson(1, "?hover", "hover/x"), lesson(2, "hover landing", "run-up/z")),
)


def test_marks_and_opportunities_are_those_of_each_student():
    marks = read_marks(HISTORIES)
    assert marks.pairs == (("hover", "x"), ("hover", "y"), ("run-up", "x"), ("run-up", "z"))
    for at, history in enumerate(HISTORIES):
        mine = slice(marks.ends[at], marks.ends[at + 1])
        seen = chances(history)
        made = [
            sum(error in one for _, one in seen.get(task, ())) for task, error in marks.pairs
        ]
        assert marks.made[mine].sum(axis=0).tolist() == made
        flown = [len(seen.get(task, ())) for task, _ in marks.pairs]
        assert marks.flown[mine].sum(axis=0).tolist() == flown
    assert marks.graded[:, 0].tolist() == [True, False, False, False, True]


def test_without_students_or_marks_nothing_recurs():
    for histories in ((), ((),), ((lesson(1, "hover"),),)):
        marks = read_marks(histories)
        assert (recurring(marks), together(marks)) == ((), ())
