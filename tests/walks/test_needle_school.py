"""The needle in a school: signing, late lessons, amendments, imports, refits, rebuilds."""

import json
from dataclasses import dataclass
from datetime import date

import pytest
from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.parameters import parameters_from
from gradebook.analytics.needle.replay import replay
from gradebook.cli import main
from gradebook.records.card import Card, Entry
from gradebook.records.commands import answering, needling, opening, signing
from gradebook.records.graded import StudentFlights, graded
from gradebook.records.needle import Needle
from gradebook.records.store import courses, facts, needles
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleFit, NeedleForecast, NeedleState
from gradebook.records.tables.training import Enrolment
from syllabus.course import LessonKind
from tests.cast import TestSchool
from tests.generator import make
from tests.walks.test_import import bring_in

FIRST = {"preflight": "practice", "run-up": "explain", "hover": "describe"}
SECOND = {"preflight": "perform", "run-up": "practice", "hover": "practice"}


def card(day: date, grades: dict[str, str]) -> Card:
    """A card ready to be signed."""
    return Card(
        flown_on=day.isoformat(),
        aircraft="invented",
        ident="KM-H1",
        entries=tuple(Entry(task, level, remark="As seen.") for task, level in grades.items()),
        times={"dual": "1.0", "day_landings": "1"},
        outcome="incomplete",
    )


def sign(school: TestSchool, lesson: str, grades: dict[str, str], ago: int = 0) -> str:
    """Ben grades and signs a lesson flown so many days ago; its id."""
    with school.database.write() as session:
        ben = school.act(session, "ben")
        draft = opening.open_record(ben, opening.OpenRecord(school.enrolment, lesson))
        return finish(school, session, draft, grades, ago)


def finish(
    school: TestSchool, session: Session, draft: LessonRecord, grades: dict[str, str], ago: int
) -> str:
    """Fill a draft and sign it; its id."""
    ben = school.act(session, "ben")
    day = date.fromordinal(school.clock.at.date().toordinal() - ago)
    saved = opening.save_card(ben, opening.SaveCard(draft.id, draft.version, card(day, grades)))
    return signing.sign_record(ben, signing.SignRecord(draft.id, saved.version)).id


def amend(school: TestSchool, record: str, grades: dict[str, str]) -> str:
    """Ben signs an amendment of a record, flown on the same day; its id."""
    with school.database.write() as session:
        original = session.get_one(LessonRecord, record)
        ago = (school.clock.at.date() - original.flown_on).days
        draft = answering.amend_record(
            school.act(session, "ben"), answering.Amend(record, "Seen again on the film.")
        )
        return finish(school, session, draft, grades, ago)


@dataclass(frozen=True)
class Foretold:
    """A forecast as kept."""

    record: str
    task: str
    fit: str | None
    chances: tuple[float, ...]
    later: bool


def foretold(school: TestSchool) -> set[Foretold]:
    """Every forecast in the database."""
    with school.database.read() as session:
        return {
            Foretold(
                row.record_id,
                row.task,
                row.fit_id,
                (row.chance, row.neutral, row.low, row.high),
                row.later,
            )
            for row in session.scalars(select(NeedleForecast))
        }


def states(school: TestSchool) -> dict[str, tuple[object, ...]]:
    """Every kept belief, by enrolment."""
    with school.database.read() as session:
        return {
            row.enrolment_id: (row.fit_id, row.flown_on, row.sequence, row.tasks, row.numbers)
            for row in session.scalars(select(NeedleState))
        }


def assert_as_rebuilt(school: TestSchool) -> None:
    """What is kept of every student is what the whole history gives, to the last bit."""
    kept = states(school)
    with school.database.read() as session:
        for row in session.scalars(select(Enrolment)).unique():
            course = courses.course_of(session, row.revision_id)
            history = facts.history(session, row.id)
            assert (row.id in kept) == bool(history)
            if history:
                now = needles.in_force(session, [course])
                log = graded([StudentFlights(row.id, course, history)]).log
                believed = replay(log, now.parameters).beliefs[row.id]
                end = (history[-1].flown_on, history[-1].sequence)
                numbers = believed.as_bytes()
                assert kept[row.id] == (now.fit_id, *end, list(believed.tasks), numbers)


def test_the_needle_after_every_signature_is_that_of_a_rebuild(
    either_school: TestSchool,
) -> None:
    school = either_school
    seen: set[Foretold] = set()
    signed = []
    for lesson, grades, ago in (
        ("s-01", FIRST, 0),
        ("s-02", SECOND, 0),
        ("s-02", {"hover": "perform", "shutdown": "not-observed"}, 0),
        ("s-01", {**FIRST, "hover": "perform"}, 20),  # flown first, signed last
        ("s-02", SECOND, 0),
    ):
        school.clock.pass_days(6)
        signed.append(sign(school, lesson, grades, ago))
        assert_as_rebuilt(school)
        now = foretold(school)
        assert seen < now
        counted = {task for task, level in grades.items() if level != "not-observed"}
        fresh = now - seen
        assert {(one.record, one.task) for one in fresh} == {
            (signed[-1], task) for task in counted
        }
        assert not any(one.later for one in fresh)
        seen = now
    amended = amend(school, signed[3], {**FIRST, "hover": "practice"})
    assert_as_rebuilt(school)
    now = foretold(school)
    assert seen < now
    assert {one.record for one in now - seen} == {amended}
    # the first flight is met with the same expectation, whatever its grades are said to be
    first, again = (
        {one.task: one.chances for one in now if one.record == record}
        for record in (signed[3], amended)
    )
    assert first == again
    before = states(school)
    with school.database.write() as session:
        read = needling.rebuild(session, needling.everybody(session))
    assert read == 2 * len(FIRST) + 2 * len(SECOND) + 1
    assert states(school) == before
    assert foretold(school) == now


def test_a_late_lesson_is_foretold_from_the_lessons_flown_before_it(school: TestSchool) -> None:
    school.clock.pass_days(10)
    sign(school, "s-01", FIRST)
    late = sign(school, "s-02", {"hover": "perform"}, ago=5)
    first = {one.chances for one in foretold(school) if one.record != late}
    # nothing was known before either of them, and all tasks begin alike
    assert {one.chances for one in foretold(school) if one.record == late} == first


def test_an_import_is_foretold_later(either_school: TestSchool) -> None:
    school = either_school
    made = make(students=3)
    sign(school, "s-01", FIRST)
    bring_in(school, made)
    assert_as_rebuilt(school)
    kept = {one for one in foretold(school) if one.task}
    assert sum(one.later for one in kept) == sum(
        sum(one.counted.values()) for one in made.students
    )
    assert len({one.task for one in kept if not one.later}) == 3
    assert all(one.fit is None for one in kept)


def test_an_imported_stage_check_is_foretold_from_the_lessons_before_it(
    either_school: TestSchool,
) -> None:
    school = either_school
    bring_in(school, make(students=6))
    kept = {one.record: one for one in foretold(school) if not one.task}
    with school.database.read() as session:
        checks = 0
        for row in session.scalars(select(Enrolment)).unique():
            course = courses.course_of(session, row.revision_id)
            history = facts.history(session, row.id)
            now = needles.in_force(session, [course])
            for at, fact in enumerate(history):
                if fact.kind is not LessonKind.STAGE_CHECK:
                    assert fact.record_id not in kept
                    continue
                checks += 1
                log = graded([StudentFlights(row.id, course, history[:at])]).log
                believed = replay(log, now.parameters).beliefs.get(row.id)
                needle = Needle(
                    course, now.parameters, believed, history[:at], on=fact.flown_on
                )
                expected = needle.check(course.stage_of[fact.lesson])
                told = kept[fact.record_id]
                assert told.chances == (
                    expected.chance,
                    expected.chance,
                    expected.low,
                    expected.high,
                )
                assert told.later
        assert checks == len(kept) > 6
        passed = [
            row.outcome in ("passed", "failed")
            for row in session.scalars(select(LessonRecord))
            if row.id in kept
        ]
        kept_checks = needles.calibration(needles.CHECKED.rows(session))
        assert kept_checks.checks == sum(passed) > 0


def test_checks_entered_before_they_were_foretold_are_foretold_by_a_rebuild(
    school: TestSchool,
) -> None:
    bring_in(school, make(students=3))
    before = foretold(school)
    with school.database.write() as session:
        session.execute(delete(NeedleForecast).where(NeedleForecast.task == ""))
    assert foretold(school) < before
    for _ in range(2):  # and once only
        with school.database.write() as session:
            needling.rebuild(session, needling.everybody(session))
        assert foretold(school) == before


def run(school: TestSchool, monkeypatch: pytest.MonkeyPatch, act: str) -> int:
    """Run `windtee needle` on the school's database."""
    monkeypatch.setenv("WINDTEE_DATABASE", school.settings.database)
    return main(["needle", act, "--data", str(school.settings.data)])


def test_too_few_grades_are_no_reason_to_refit(
    either_school: TestSchool,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    school = either_school
    sign(school, "s-01", FIRST)
    before = states(school), foretold(school)
    assert run(school, monkeypatch, "refit") == 1
    said = "Fewer than 500 counted grades: the published defaults stay in force.\n"
    assert capsys.readouterr().err == said
    assert (states(school), foretold(school)) == before
    assert run(school, monkeypatch, "rebuild") == 0
    assert capsys.readouterr().out == "Every needle rebuilt from 3 grades.\n"
    assert (states(school), foretold(school)) == before


def test_beliefs_thrown_away_come_back(school: TestSchool) -> None:
    sign(school, "s-01", FIRST)
    school.clock.pass_days(4)
    before = states(school)
    for again in (False, True):
        with school.database.write() as session:
            needles.forget(session)
        assert states(school) == {}
        if again:  # the next signature finds nothing to go on from
            sign(school, "s-02", SECOND)
        else:
            with school.database.write() as session:
                needling.rebuild(session, needling.everybody(session))
            assert states(school) == before
        assert_as_rebuilt(school)


def age(school: TestSchool) -> None:
    """Leave beliefs and fits as an earlier arithmetic kept them: without saying which it is."""
    with school.database.write() as session:
        for row in session.scalars(select(NeedleState)):
            row.numbers = row.numbers[8:]
        for fit in session.scalars(select(NeedleFit)):
            known = json.loads(fit.parameters)
            del known["arithmetic"], known["spread"]["hold"]
            for curve in (known["typical"], *known["tasks"].values()):
                del curve["vague"]
            fit.parameters = json.dumps(known)
    needles._kept.clear()  # as a server that starts with the newer program


def test_needles_of_an_earlier_arithmetic_are_noticed_and_renewed(
    either_school: TestSchool,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    school = either_school
    sign(school, "s-01", FIRST)
    before = states(school)
    age(school)
    page = school.visitor("cleo").get("/installation")
    assert "Needles are of an earlier arithmetic" in page
    monkeypatch.setenv("WINDTEE_DATABASE", school.settings.database)
    data = ["--data", str(school.settings.data)]
    for words in (True, False):
        assert main(["upgrade", *data]) == 0
        assert ("Every needle renewed" in capsys.readouterr().out) is words
    assert states(school) == before
    assert "earlier arithmetic" not in school.visitor("cleo").get("/installation")


def test_a_signature_goes_on_from_nothing_an_earlier_arithmetic_believed(
    school: TestSchool,
) -> None:
    sign(school, "s-01", FIRST)
    age(school)
    school.clock.pass_days(4)
    sign(school, "s-02", SECOND)
    assert_as_rebuilt(school)


def test_a_fit_of_an_earlier_arithmetic_is_made_anew(school: TestSchool) -> None:
    bring_in(school, make(students=20))
    with school.database.write() as session:
        needling.refit(session, school.clock.at)
    age(school)
    school.clock.pass_days(1)
    with school.database.write() as session:
        assert needles.outdated(session) == 21
        needling.renew(session, school.clock.at)
        assert needles.outdated(session) == 0
        assert len(needles.fits(session)) == 2


def test_a_fit_is_in_force_as_it_was_made_and_the_pages_say_how_sharp(
    school: TestSchool,
) -> None:
    bring_in(school, make(students=20))
    with school.database.write() as session:
        fit = needling.refit(session, school.clock.at)
        assert fit is not None
        made = parameters_from(fit.parameters)
        taught = courses.course_of(session, courses.latest_revisions(session)[0].id)
        now = needles.in_force(session, [taught]).parameters
    assert now == made
    assert made.slope != 1
    said = f"{made.slope:.2f}"
    assert f"{said}: what every forecast" in school.visitor("cleo").get("/school/forecasts")
    sign(school, "s-01", FIRST)
    page = school.visitor("ana").get(f"/students/{school.enrolment}/tasks/hover")
    assert f"chances said {said} times as sharply" in page


def test_a_refit_changes_what_is_believed_and_no_forecast_made_before(
    either_school: TestSchool,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    school = either_school
    made = make(students=20)
    bring_in(school, made)
    before, kept = states(school), foretold(school)
    assert run(school, monkeypatch, "refit") == 0
    counted = sum(bool(one.task) for one in kept)
    said = capsys.readouterr().out
    assert said == f"Fitted on {counted} grades of 20 students; every needle rebuilt.\n"
    with school.database.read() as session:
        fit = session.scalars(select(NeedleFit)).one()
        assert (fit.grades, fit.students) == (counted, 20)
    assert foretold(school) == kept
    assert_as_rebuilt(school)
    assert all(row[0] == fit.id for row in states(school).values())
    assert all(states(school)[name][4] != row[4] for name, row in before.items())
    school.clock.pass_days(1)
    fresh = sign(school, "s-01", FIRST)
    assert {one.fit for one in foretold(school) if one.record == fresh} == {fit.id}
    assert_as_rebuilt(school)
