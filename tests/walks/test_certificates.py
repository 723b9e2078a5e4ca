"""An instructor's certificate runs out: nobody signs under it, and the chief is told before."""

from datetime import date, timedelta

import pytest

from gradebook.records.certificates import Term
from gradebook.records.commands import checks
from gradebook.records.faults import InvalidError
from gradebook.records.tables.people import Person
from tests.cast import SECRET, TestSchool, Visitor
from tests.walks.test_main_job import FILLED, lesson_form, open_card
from tests.walks.test_stage_check import ready


def enter(school: TestSchool, days: int, who: str = "ben", term: str = "expires") -> date:
    """The administrator enters a last day, so many days from today."""
    until = school.clock.at.date() + timedelta(days=days)
    flo = school.visitor("flo")
    with school.database.read() as session:
        roles = {"ben": ["instructor"], "cleo": ["chief instructor"]}[who]
        number = session.get_one(Person, school.ids[who]).certificate
    path = f"/people/{school.ids[who]}"
    flo.get(path)
    fields = {"roles": roles, "active": "y", "certificate": number}
    days_of = {"certificate_term": term, "certificate_until": until.isoformat()}
    flo.send(path, {**fields, **days_of})
    return until


def filled(school: TestSchool) -> tuple[Visitor, str]:
    """Ben with a card of today that only wants his name."""
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    return ben, record


def signed(ben: Visitor, record: str, status: int = 200) -> str:
    """What Ben is told when he reviews the card and signs it."""
    review = ben.get(f"/lessons/{record}/review")
    fields = {"version": "2", "secret": SECRET}
    return review + ben.send(f"/lessons/{record}/sign", fields, status).text


def test_nobody_signs_for_a_day_after_the_last(school: TestSchool) -> None:
    enter(school, -1)
    ben, record = filled(school)
    refused = signed(ben, record, 422)
    assert refused.count("The instructor certificate expired on 2026-05-19") >= 2
    enter(school, 0)
    assert "Signed." in signed(school.visitor("ben"), record)


def test_the_rule_of_recent_experience_is_named(school: TestSchool) -> None:
    enter(school, -1, term=Term.EXPERIENCE.value)
    ben, record = filled(school)
    assert "14 CFR 61.197" in signed(ben, record, 422)


def test_a_lesson_flown_before_is_signed_later(school: TestSchool) -> None:
    _, record = filled(school)
    enter(school, 0)
    school.clock.pass_days(3)
    assert "Signed." in signed(school.visitor("ben"), record)


def test_nobody_recommends_or_endorses_after_the_last_day(school: TestSchool) -> None:
    page = ready(school)
    enter(school, -1)
    ben = school.visitor("ben")
    ben.get(page)
    assert "does not hold on" in ben.post(f"{page}/recommend", 422)
    today = school.clock.at.date()
    solo = checks.FileEvent(school.enrolment, "endorsement", "x", today, None, True, "")
    with school.database.write() as session:
        act = school.act(session, "ben")
        with pytest.raises(InvalidError, match="does not hold on"):
            checks.file_event(act, solo)


@pytest.mark.parametrize(("days", "told"), [(60, True), (61, False), (-3, True)])
def test_the_chief_and_its_holder_are_told_for_sixty_days(
    school: TestSchool, days: int, told: bool
) -> None:
    enter(school, days)
    for who, sees in (("cleo", told), ("ben", told), ("dov", False)):
        page = school.visitor(who).get("/")
        assert ("Instructor certificates about to end" in page) is sees, who


def test_people_shows_how_long_each_holds(school: TestSchool) -> None:
    enter(school, -1)
    page = school.visitor("cleo").get("/people")
    assert "ended: through" in page
    assert "its end not entered yet" in page


def test_a_day_of_nothing_is_refused_and_nothing_changes(school: TestSchool) -> None:
    flo = school.visitor("flo")
    path = f"/people/{school.ids['ben']}"
    flo.get(path)
    fields = {"roles": ["instructor"], "active": "y", "certificate": "new"}
    page = flo.send(path, {**fields, "certificate_until": "2026-05-31"}, 422).text
    assert "Choose what this day is" in page
    page = flo.send(path, {**fields, "certificate_term": "expires"}, 422).text
    assert "Enter the day." in page
    with school.database.read() as session:
        row = session.get_one(Person, school.ids["ben"])
        assert (row.certificate, row.certificate_until) == ("C-ben", None)


def test_who_changed_it_stands_in_the_trail(school: TestSchool) -> None:
    until = enter(school, 10)
    assert until.isoformat() in school.visitor("cleo").get("/audit")
    assert SECRET not in school.visitor("cleo").get("/audit")
