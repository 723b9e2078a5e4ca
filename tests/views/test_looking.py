"""Looks at a student's records by office are in the audit trail."""

from datetime import timedelta

from sqlalchemy import select

from gradebook.records.tables.audit import AuditEvent
from tests.cast import TestSchool
from tests.records.test_database import pages
from tests.walks.test_main_job import sign_first_lesson


def looks(school: TestSchool) -> list[tuple[str | None, str, str | None]]:
    """Who looked, by which right, at what."""
    names = {person: name for name, person in school.ids.items()}
    with school.database.read() as session:
        events = session.scalars(select(AuditEvent).order_by(AuditEvent.id))
        return [
            (names[event.actor_id or ""], event.action, event.object_id)
            for event in events
            if event.facts.get("looked")
        ]


def test_a_look_by_office_is_noted_once_a_day(either_school: TestSchool) -> None:
    school, record = either_school, sign_first_lesson(either_school)
    for name in ("ana", "ben"):
        who = school.visitor(name)
        who.get(f"/students/{school.enrolment}")
        who.get(f"/records/{record}")
    assert looks(school) == []
    cleo = school.visitor("cleo")
    for _ in range(2):
        cleo.get(f"/students/{school.enrolment}")
        cleo.get(f"/records/{record}")
    day = [
        ("cleo", "student:read", school.enrolment),
        ("cleo", "lesson-record:read", record),
    ]
    assert looks(school) == day
    school.clock.at += timedelta(days=1)
    school.visitor("cleo").get(f"/records/{record}")
    assert looks(school) == [*day, day[1]]


def test_a_full_disk_hides_no_record(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    pages(school, 0)
    for number in range(100):  # the trail takes these until its pages are full
        cleo.get(f"/records/{number:032}", 404)
    assert "Ana" in cleo.get(f"/students/{school.enrolment}")
    assert 0 < len(looks(school)) < 100


def test_the_trail_names_whose_records_were_looked_at(either_school: TestSchool) -> None:
    school, record = either_school, sign_first_lesson(either_school)
    cleo = school.visitor("cleo")
    cleo.get(f"/students/{school.enrolment}")
    cleo.get(f"/records/{record}")
    school.visitor("flo").get(f"/students/{school.enrolment}", 403)
    seen = school.visitor("gus").get("/audit").rpartition("<tbody>")[2].split("<tr>")
    lines = [line for line in seen if "first look" in line or "denied" in line]
    assert len(lines) == 3
    assert all(">Ana</td>" in line for line in lines), lines
