"""One file, previewed by two people or sent twice: it comes in once, and each is told so."""

from collections.abc import Callable

import pytest
from sqlalchemy import func, select

from gradebook.records import headway
from gradebook.records.commands import jobs, roles
from gradebook.records.jobs import Kind
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import Grade
from gradebook.records.tables.training import Enrolment
from gradebook.records.working import doing
from gradebook.records.working.waiting import uploaded
from tests.cast import TestSchool, Visitor
from tests.generator import make
from tests.walks.test_import import upload
from tests.walks.test_long_work import (
    digest_in,
    ended,
    halted_at,
    impatient,
    job_in,
    leave_to_processes,
    send,
)

ALREADY = "<h1>This file is imported already</h1>"
BY_CLEO = "Cleo imported this file on 20 May 2026"
FEW = 2
WAYS: list[Callable[[TestSchool], TestSchool]] = [lambda school: school, impatient]


def two_chiefs(school: TestSchool) -> tuple[Visitor, Visitor]:
    """Cleo and Ben, who is a chief instructor too."""
    with school.database.write() as session:
        act = school.act(session, "cleo")
        roles.grant(act, people.person(session, school.ids["ben"]), Role.CHIEF)
    both = school.visitor("cleo"), school.visitor("ben")
    for one in both:
        one.get("/import")
    return both


def kept(school: TestSchool) -> list[int | None]:
    """How much there is of what an import writes."""
    with school.database.read() as session:
        tables = Enrolment, Grade, AuditEvent
        return [session.scalar(select(func.count()).select_from(table)) for table in tables]


@pytest.mark.parametrize("server", WAYS, ids=["at once", "aside"])
def test_a_file_that_two_previewed_comes_in_once_and_the_second_is_told_by_whom(
    school: TestSchool, server: Callable[[TestSchool], TestSchool]
) -> None:
    server(school)
    cleo, ben = two_chiefs(school)
    made = make(FEW if server is not impatient else 6)
    first = digest_in(upload(cleo, made.students_csv))
    assert digest_in(upload(ben, made.students_csv)) == first
    done = f"{len(made.students)} students imported."
    assert done in send(cleo, first)
    after = kept(school)
    page = ben.post("/import/commit", 409, digest=first, reason="")
    assert ALREADY in page
    assert BY_CLEO in page
    assert done in page
    assert 'href="/students"' in page
    own = send(cleo, first)
    assert "You sent this file before: this is how it stands." in own
    assert "Importing a file: done" in own
    assert done in own
    assert kept(school) == after
    again = upload(ben, made.students_csv, 422)
    assert BY_CLEO in again
    assert "is already in this course" in again


@pytest.mark.parametrize("server", WAYS, ids=["at once", "aside"])
def test_who_is_a_moment_too_late_is_told_the_same(
    school: TestSchool, server: Callable[[TestSchool], TestSchool]
) -> None:
    cleo, ben = two_chiefs(school)
    made = make(FEW)
    digest = digest_in(upload(cleo, made.students_csv))
    send(cleo, digest)
    after = kept(school)
    uploaded(school.settings.data, digest).write_text(made.students_csv)
    server(school)
    page = ben.post("/import/commit", 409, digest=digest, reason="")
    assert ALREADY in page
    assert BY_CLEO in page
    assert kept(school) == after


def test_of_two_jobs_about_one_file_the_second_says_who_brought_it_in(
    school: TestSchool,
) -> None:
    cleo, ben = two_chiefs(school)
    made = make(FEW)
    digest = digest_in(upload(cleo, made.students_csv))
    names = {"cleo": "1" * 32, "ben": "2" * 32}
    wanted = {"subject": digest, "reason": ""}
    with school.database.write() as session:
        for who, name in names.items():
            jobs.ask(school.act(session, who), name, Kind.IMPORT, wanted)
    for name in names.values():
        doing.do(school.settings, school.database, name, pytest.fail)
    page = ben.get(f"/jobs/{names['ben']}")
    assert "Importing a file: not done" in page
    assert "This file is imported already." in page
    assert BY_CLEO in page
    assert f"{FEW} students imported." in page
    assert "Start again" not in page
    assert f"{FEW} students imported." in cleo.get(f"/jobs/{names['cleo']}")


def test_while_a_file_comes_in_the_second_is_told_who_is_at_it(school: TestSchool) -> None:
    impatient(school)
    cleo, ben = two_chiefs(school)
    made = make(6)
    send(cleo, digest_in(upload(cleo, made.students_csv)))
    digest = digest_in(upload(ben, made.grades_csv))
    leave_to_processes(school)
    folder = headway.folder_in(school.settings.data)
    job = job_in(send(cleo, digest))
    with halted_at(folder, job, "write"):
        page = ben.post("/import/commit", 409, digest=digest, reason="")
        assert "<h1>This file is being imported now</h1>" in page
        assert "Cleo asked for it on 20 May 2026" in page
        assert f"of {made.lessons} lessons written" in page
    ended(folder, job)
    page = ben.post("/import/commit", 409, digest=digest, reason="")
    assert "Cleo imported this file on" in page
    assert f"{made.lessons} lessons with {made.grades} grades imported." in page


def test_who_may_not_import_learns_nothing_of_a_file(school: TestSchool) -> None:
    cleo, _ = two_chiefs(school)
    digest = digest_in(upload(cleo, make(FEW).students_csv))
    send(cleo, digest)
    gus = school.visitor("gus")
    gus.get("/")
    assert "Cleo" not in gus.post("/import/commit", 403, digest=digest, reason="")
