"""Files that wait do not wait for ever: they go at somebody's next sign-in, a day later."""

import os
from pathlib import Path

from gradebook.records import headway
from gradebook.records.commands import jobs
from gradebook.records.jobs import Kind
from gradebook.records.store.jobs import KEPT
from gradebook.records.tables.jobs import Job
from gradebook.records.working.waiting import uploaded
from tests.cast import TestSchool

HOURS = KEPT.total_seconds() / 3600
OLD, NEW = HOURS + 1, HOURS - 1


def age(school: TestSchool, hours: float, *paths: Path) -> None:
    """Let it be so many hours since these were written."""
    moment = school.clock.at.timestamp() - hours * 3600
    for path in paths:
        os.utime(path, (moment, moment))


def left(folder: Path, job: str) -> list[Path]:
    """The files of a job whose process has ended."""
    with headway.held(folder, job):
        headway.teller(folder, job)("write", 1, 2)
    return sorted(folder.glob(f"{job}.*"))


def test_uploads_and_counts_go_after_a_day_at_the_next_sign_in(school: TestSchool) -> None:
    data = school.settings.data
    folder = headway.folder_in(data)
    names = "0" * 64, f"{'1' * 64}.wtr", "2" * 64
    for name in names:
        uploaded(data, name).write_text("somebody's words")
    first, second, third = (uploaded(data, name) for name in names)
    old = [first, second, *left(folder, "3" * 32)]
    new = [third, *left(folder, "4" * 32)]
    age(school, OLD, *old)
    age(school, NEW, *new)
    school.visitor("ana")
    assert [path.name for path in old if path.exists()] == []
    assert [path.name for path in new if not path.exists()] == []


def test_work_that_somebody_is_at_keeps_its_files(school: TestSchool) -> None:
    folder = headway.folder_in(school.settings.data)
    with headway.held(folder, "5" * 32):
        headway.teller(folder, "5" * 32)("write", 1, 2)
        files = sorted(folder.glob(f"{'5' * 32}.*"))
        age(school, OLD, *files)
        school.visitor("ana")
        assert all(path.exists() for path in files)
        assert headway.is_held(folder, "5" * 32)
    school.visitor("ana")
    assert not any(path.exists() for path in files)


def test_what_came_of_work_is_forgotten_a_day_later_at_the_next_sign_in(
    school: TestSchool,
) -> None:
    with school.database.write() as session:
        jobs.ask(school.act(session, "cleo"), "6" * 32, Kind.PROVE, {"subject": "ledger"})
    for hours, stays in ((NEW, True), (2, False)):
        school.clock.pass_minutes(60 * hours)
        school.visitor("ana")
        with school.database.read() as session:
            assert (session.get(Job, "6" * 32) is not None) is stays
