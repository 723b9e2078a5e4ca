"""What readers keep in memory is never older than what anybody did."""

from datetime import date, timedelta

import numpy as np

from gradebook.analytics.needle.beliefs import MARK
from gradebook.records.act import Act
from gradebook.records.commands import needling
from gradebook.records.database import MEMORY
from gradebook.records.graded import shapes, with_scales
from gradebook.records.remembering import Memories, Memory
from gradebook.records.store import enrolments, facts, onfile, standing, watched
from gradebook.records.tables.needle import NeedleFit, NeedleState
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import History
from tests.cast import SECRET, TestSchool
from tests.counting import asked
from tests.records.rebuilding.behind import behind, rebuilt
from tests.walks.test_main_job import FILLED, lesson_form, sign_first_lesson

MARKED = "Selector left on one side"


class Clock:
    at = 0.0

    def __call__(self) -> float:
        return self.at


def test_what_is_kept_is_recalled_under_its_own_mark_only() -> None:
    memory = Memory()
    memory.keep("a", 1, "first", 2)
    assert memory.recall({"a": 1, "b": 1}) == {"a": "first"}
    assert memory.recall({"a": 2}) == {}
    memory.keep("a", 2, "second", 3)
    assert memory.recall({"a": 2}) == {"a": "second"}
    assert memory.recall({"a": 1}) == {}
    assert memory.lessons == 3


def test_what_was_asked_for_longest_ago_makes_room() -> None:
    memory = Memory(most=5)
    memory.keep("a", 1, "a", 2)
    memory.keep("b", 1, "b", 2)
    memory.recall({"a": 1})
    memory.keep("c", 1, "c", 2)
    assert set(memory.recall(dict.fromkeys("abc", 1))) == {"a", "c"}
    memory.keep("d", 1, "d", 6)
    assert memory.lessons == 0


def test_what_nobody_asks_for_is_forgotten() -> None:
    clock = Clock()
    memory = Memory(idle=60, clock=clock)
    memory.keep("a", 1, "a", 2)
    memory.keep("b", 1, "b", 3)
    clock.at = 59
    memory.recall({"b": 1})
    clock.at = 61
    memory.recall({})
    assert memory.lessons == 3


def test_a_page_reads_a_history_once(either_school: TestSchool) -> None:
    sign_first_lesson(either_school)
    page = f"/students/{either_school.enrolment}"
    ana = either_school.visitor("ana")
    first = ana.get(page)
    with asked(either_school.database.engine) as sent:
        assert ana.get(page).count("Selector") == first.count("Selector") > 0
    assert not [one for one in sent if "FROM grade" in one]


def test_a_page_shows_what_was_done_since(either_school: TestSchool) -> None:
    school = either_school
    record = sign_first_lesson(school)
    page = f"/students/{school.enrolment}/readiness/stage-1"
    cleo, ana = school.visitor("cleo"), school.visitor("ana")
    signed = cleo.get(page)
    ana.get(f"/records/{record}")
    ana.post(f"/records/{record}/acknowledge", answer="agree", secret=SECRET)
    answered = cleo.get(page)
    assert "1 lesson to acknowledge" in signed
    assert "1 lesson to acknowledge" not in answered
    cleo.post(f"/records/{record}/void", reason="Another student's.", secret=SECRET)
    assert "Selector" in answered
    assert "Selector" not in cleo.get(page)


def test_an_amendment_takes_the_place_of_what_was_remembered(
    either_school: TestSchool,
) -> None:
    school = either_school
    original = sign_first_lesson(school)
    assert _level(_history(school), "hover") == "explain"
    ben = school.visitor("ben")
    ben.get(f"/records/{original}/amend")
    card = ben.send(f"/records/{original}/amend", {"reason": "Hover was better."})
    draft = card.request.path.rsplit("/", 1)[1]
    ben.send(
        f"/lessons/{draft}", {**FILLED, **lesson_form(card.text), "level-hover": "practice"}
    )
    review = ben.get(f"/lessons/{draft}/review")
    ben.send(f"/lessons/{draft}/sign", {**lesson_form(review), "secret": SECRET})
    assert _level(_history(school), "hover") == "practice"


def test_what_a_rebuild_puts_back_is_seen(either_school: TestSchool) -> None:
    school = either_school
    sign_first_lesson(school)
    behind(school, "UPDATE grade SET level = 'perform' WHERE task = 'hover'")
    assert _level(_history(school), "hover") == "perform"
    rebuilt(school)
    assert _level(_history(school), "hover") == "explain"


def test_a_writer_keeps_nothing(either_school: TestSchool) -> None:
    school = either_school
    sign_first_lesson(school)
    kept = memories_of(school)
    with school.database.write() as session:
        row = session.get_one(Enrolment, school.enrolment)
        assert standing.standing(session, row, school.clock.at.date()).history
        session.rollback()
    assert (kept.files.lessons, kept.standings.lessons) == (0, 0)
    with school.database.read() as session:
        row = session.get_one(Enrolment, school.enrolment)
        assert standing.standing(session, row, school.clock.at.date()).history
    assert (kept.files.lessons, kept.standings.lessons) == (1, 1)


def test_what_was_worked_out_is_taken_over_while_it_is_true(school: TestSchool) -> None:
    sign_first_lesson(school)
    today = school.clock.at.date()
    weak = _standing(school, today).weak
    assert weak
    assert _standing(school, today).weak is weak
    tomorrow = today + timedelta(days=1)
    assert _standing(school, tomorrow).weak is not weak
    weak = _standing(school, today).weak
    with school.database.write() as session:
        course = _standing(school, today).course
        text = with_scales(None, shapes([course])).as_text()
        session.add(NeedleFit(made_at=school.clock.at, grades=1, students=1, parameters=text))
    assert _standing(school, today).weak is not weak


def test_a_needle_read_anew_is_seen(school: TestSchool) -> None:
    sign_first_lesson(school)
    today = school.clock.at.date()
    right = _standing(school, today).chance
    with school.database.write() as session:
        row = session.get_one(NeedleState, school.enrolment)
        numbers = np.frombuffer(row.numbers[len(MARK) :], "<f8")
        row.numbers = MARK + (numbers * 1.5).tobytes()
    assert _standing(school, today).chance != right
    with school.database.write() as session:
        needling.rebuild(session, needling.everybody(session))
    assert _standing(school, today).chance == right


def test_a_course_put_back_is_seen(school: TestSchool) -> None:
    sign_first_lesson(school)
    today = school.clock.at.date()
    right = _standing(school, today).weak
    assert right
    behind(
        school,
        "INSERT INTO revision SELECT 'other', course, 'Another', files, published_at,"
        " published_by FROM revision LIMIT 1",
        "UPDATE enrolment SET revision_id = 'other'",
    )
    assert _standing(school, today).weak is not right
    rebuilt(school)
    assert _standing(school, today).weak is not right


def test_what_was_found_of_a_school_is_taken_over_while_it_is_true(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    today = school.clock.at.date()
    found = _found(school, today)
    assert _found(school, today) is found
    assert _found(school, today + timedelta(days=1)) is not found
    found = _found(school, today)
    with school.database.write() as session:
        text = with_scales(None, shapes([_standing(school, today).course])).as_text()
        session.add(NeedleFit(made_at=school.clock.at, grades=1, students=1, parameters=text))
    refitted = _found(school, today)
    assert refitted is not found
    cleo = school.visitor("cleo")
    cleo.get(f"/records/{record}")
    cleo.post(f"/records/{record}/void", reason="Another student's.", secret=SECRET)
    assert _found(school, today) is not refitted


def test_the_watch_shows_what_was_done_since(either_school: TestSchool) -> None:
    school = either_school
    record = sign_first_lesson(school)
    cleo = school.visitor("cleo")
    assert cleo.get("/school").count(MARKED) == cleo.get("/school").count(MARKED) > 0
    with school.database.write() as session:
        session.get_one(Person, school.ids["ana"]).name = "Ana Renamed"
    assert "Ana Renamed" in cleo.get("/school")
    cleo.get(f"/records/{record}")
    cleo.post(f"/records/{record}/void", reason="Another student's.", secret=SECRET)
    assert MARKED not in cleo.get("/school")


def test_nothing_kept_follows_from_the_row_of_an_enrolment() -> None:
    every = vars(standing.Standing).values()
    kept = [one for one in every if isinstance(one, standing.worked_out)]
    assert len(kept) > 5
    assert [one.name for one in kept if "enrolment" in one.work.__code__.co_names] == []


def test_a_name_is_never_remembered(school: TestSchool) -> None:
    sign_first_lesson(school)
    cleo = school.visitor("cleo")
    before = cleo.get("/students")
    with school.database.write() as session:
        session.get_one(Person, school.ids["ana"]).name = "Ana Renamed"
    after = cleo.get("/students")
    assert "Ana Renamed" in after
    assert "Ana Renamed" not in before


def test_many_are_read_as_one_is(either_school: TestSchool) -> None:
    school = either_school
    sign_first_lesson(school)
    school.clock.pass_days(1)
    with school.database.read() as session:
        rows = enrolments.enrolments(session, _act(school, session).actor, current=False)
        together = facts.histories(session, [row.id for row in rows])
        assert len(together) > 1
        for name, history in together.items():
            assert facts.history(session, name) == history
        assert [grade.task for grade in together[school.enrolment][0].grades][:3] == [
            "preflight",
            "run-up",
            "hover",
        ]


def memories_of(school: TestSchool) -> Memories:
    with school.database.read() as session:
        kept: Memories = session.info[MEMORY]
        return kept


def _standing(school: TestSchool, today: date) -> standing.Standing:
    with school.database.read() as session:
        row = session.get_one(Enrolment, school.enrolment)
        return standing.standing(session, row, today)


def _found(school: TestSchool, today: date) -> object:
    """What is kept of the school's lessons: one object for as long as they are the same."""
    with school.database.read() as session:
        actor = _act(school, session).actor
        return watched.watched(session, actor, today, "", "UTC").kept("found", object)


def _act(school: TestSchool, session: object) -> Act:
    return school.act(session, "cleo")


def _history(school: TestSchool) -> History:
    with school.database.read() as session:
        return onfile.file(session, school.enrolment).history


def _level(history: History, task: str) -> str:
    grade = history[-1].grade(task)
    assert grade is not None
    return grade.level
