"""Long work: begun by a request, done aside from it, seen while it lasts, whole or not."""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from gradebook.app import create_app
from gradebook.records import headway
from gradebook.records.commands import jobs, roles
from gradebook.records.jobs import Kind, remaining
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.jobs import Job
from gradebook.records.working import doing, starting
from tests.cast import SEED, TestSchool, Visitor
from tests.generator import Made, make
from tests.walks.test_import import bring_in, upload

JOB = re.compile(r"/jobs/([0-9a-f]{32})")
STUDENTS = 6
AT_ONCE_MS = 30
LOOKS, EVERY = 6000, 0.01
"""How often the work is looked at, seconds apart, before a test gives up."""


def impatient(school: TestSchool) -> TestSchool:
    """The school with a server to which 3 students or 21 grades are long work."""
    school.app.extensions["windtee"].database.engine.dispose()
    school.settings = replace(school.settings, at_once_ms=AT_ONCE_MS)
    school.app = create_app(school.settings)
    return school


@pytest.fixture
def school(school: TestSchool) -> TestSchool:
    return impatient(school)


@pytest.fixture
def either_school(either_school: TestSchool) -> TestSchool:
    return impatient(either_school)


def ready_to_import(school: TestSchool) -> tuple[Visitor, Made, str]:
    """Cleo has the students in, and the preview of their lessons before her."""
    made = make(STUDENTS)
    cleo = school.visitor("cleo")
    cleo.get("/import")
    preview = upload(cleo, made.students_csv)
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', preview)
    assert digest
    assert f"{STUDENTS} students imported" in send(cleo, digest[1])
    preview = upload(cleo, made.grades_csv)
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', preview)
    assert digest
    return cleo, made, digest[1]


def send(who: Visitor, digest: str) -> str:
    return who.post("/import/commit", digest=digest, reason="")


def job_in(page: str) -> str:
    found = JOB.search(page)
    assert found, page[:2000]
    return found[1]


@contextmanager
def apart(school: TestSchool) -> Iterator[Visitor]:
    """Cleo at a server of the same school that leaves long work to processes."""
    (school.settings.data / "school.key").write_text(SEED.hex())
    app = create_app(replace(school.settings, apart=True))
    cleo = Visitor(app.test_client())
    cleo.get("/sign-in")
    cleo.post("/sign-in", email="cleo@school.example", secret="a sentence for the tests")
    yield cleo
    app.extensions["windtee"].database.engine.dispose()


def ended(folder: Path, job: str) -> None:
    """Wait until nobody is at a job: its lock tells."""
    wait = "import fcntl, sys; fcntl.flock(open(sys.argv[1]), fcntl.LOCK_SH)"
    words = [sys.executable, "-c", wait, str(folder / f"{job}.lock")]
    waiting = subprocess.run(words, check=False, timeout=60)
    assert waiting.returncode == 0


@contextmanager
def halted_at(folder: Path, job: str, step: str) -> Iterator[int]:
    """The process that works on a job, halted once it tells of a step; goes on afterwards."""
    pause = threading.Event()
    for _ in range(LOOKS):
        if headway.count_of(folder, job).step == step:
            break
        assert headway.is_held(folder, job), "ended before it came to that"
        pause.wait(EVERY)
    pid = pid_of(job)
    os.kill(pid, signal.SIGSTOP)
    try:
        assert headway.count_of(folder, job).step == step
        yield pid
    finally:
        os.kill(pid, signal.SIGCONT)


def pid_of(job: str) -> int:
    """The process that works on a job, found by what it was started with."""
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = one.read_bytes().split(b"\0")
        except OSError:
            continue
        if b"gradebook.worker" in words and job.encode() in words:
            return int(one.parent.name)
    raise AssertionError("nobody works on it")


def test_a_file_that_takes_long_is_imported_aside_and_its_page_says_what_came_of_it(
    school: TestSchool,
) -> None:
    cleo, made, digest = ready_to_import(school)
    page = send(cleo, digest)
    assert f"{made.lessons} lessons with {made.grades} grades imported." in page
    assert "Importing a file: done" in page
    home = cleo.get("/")
    assert f"/jobs/{job_in(page)}" in home
    assert not (school.settings.data / "imports" / digest).exists()


def test_nobody_else_sees_a_job(school: TestSchool) -> None:
    cleo, _, digest = ready_to_import(school)
    job = job_in(send(cleo, digest))
    for name, status in (("gus", 404), ("ben", 403), ("ana", 403)):
        other = school.visitor(name)
        other.get(f"/jobs/{job}", status)
        other.get(f"/jobs/{job}/counts", status)
        other.post(f"/jobs/{job}/again", status)
    cleo.get("/jobs/0123456789abcdef0123456789abcdef", 404)


def test_a_file_that_does_not_fit_any_more_fails_with_its_lines_and_writes_nothing(
    school: TestSchool,
) -> None:
    cleo, made, digest = ready_to_import(school)
    (school.settings.data / "imports" / digest).with_suffix(".copy").write_text(made.grades_csv)
    send(cleo, digest)
    copy = (school.settings.data / "imports" / digest).with_suffix(".copy")
    copy.rename(school.settings.data / "imports" / digest)
    page = send(cleo, digest)
    assert "Importing a file: not done" in page
    assert f"Faults in the file: {made.lessons}; nothing was written." in page
    assert "This lesson of that day is already on file." in page
    assert "Everything is as it was signed" in cleo.get("/audit?prove=1")


def test_whoever_may_not_any_more_is_refused_when_the_work_is_done(school: TestSchool) -> None:
    _, _, digest = ready_to_import(school)
    with school.database.write() as session:
        act = school.act(session, "cleo")
        jobs.ask(act, "1" * 32, Kind.IMPORT, {"subject": digest, "reason": ""})
        roles.revoke(act, people.person(session, school.ids["cleo"]), Role.CHIEF)
    doing.do(school.settings, school.database, "1" * 32, pytest.fail)
    with school.database.read() as session:
        row = session.get_one(Job, "1" * 32)
        assert row.state == "failed"
        assert row.outcome["words"] == "Your role does not allow records:import."


def test_everything_is_proved_aside_in_a_long_ledger(school: TestSchool) -> None:
    cleo = bring_in(school, make(STUDENTS))
    cleo.get("/audit")
    page = cleo.post("/audit/prove")
    assert "Proving everything: done" in page
    proof = cleo.get(f"/audit?proof={job_in(page)}")
    assert "Everything is as it was signed</h2>" in proof
    assert "verified: " in proof


def test_counts_are_seen_while_a_process_works_and_the_work_outlives_the_request(
    either_school: TestSchool,
) -> None:
    school = either_school
    _, made, digest = ready_to_import(school)
    folder = headway.folder_in(school.settings.data)
    with apart(school) as cleo:
        page = send(cleo, digest)
        job = job_in(page)
        assert "Importing a file: under way" in page
        assert job_in(send(cleo, digest)) == job, "asked twice, it is one work"
        with halted_at(folder, job, "write"):
            told = cleo.client.get(f"/jobs/{job}/counts").json
        assert told["state"] == "asked"
        assert f"{told['done']} of {told['total']} lessons written" == told["words"]
        assert told["total"] == made.lessons
        ended(folder, job)
        assert f"{made.lessons} lessons with {made.grades} grades" in cleo.get(f"/jobs/{job}")
        assert "Everything is as it was signed" in cleo.get("/audit?prove=1")


def test_work_killed_in_the_middle_is_said_to_be_interrupted_and_can_be_started_again(
    either_school: TestSchool,
) -> None:
    school = either_school
    _, made, digest = ready_to_import(school)
    folder = headway.folder_in(school.settings.data)
    with apart(school) as cleo:
        before = re.findall(r"(\d+) acts in the trail", cleo.get("/audit"))
        job = job_in(send(cleo, digest))
        with halted_at(folder, job, "write") as pid:
            os.kill(pid, signal.SIGKILL)
        ended(folder, job)
        page = cleo.get(f"/jobs/{job}")
        assert "Importing a file: interrupted" in page
        assert "Nothing was changed" in page
        assert "interrupted, and nothing was changed" in cleo.get("/")
        after = cleo.get("/audit?prove=1")
        assert "Everything is as it was signed" in after
        assert re.findall(r"(\d+) acts in the trail", after) == [str(int(before[0]) + 1)]
        cleo.get(f"/jobs/{job}")
        cleo.post(f"/jobs/{job}/again")
        ended(folder, job)
        done = f"{made.lessons} lessons with {made.grades} grades imported."
        assert done in cleo.get(f"/jobs/{job}")
        cleo.post(f"/jobs/{job}/again", 409)


def test_a_page_is_not_kept_waiting_by_somebody_who_writes(either_school: TestSchool) -> None:
    ana = either_school.visitor("ana")
    either_school.clock.pass_minutes(5)
    with either_school.database.write() as session:
        either_school.act(session, "cleo")
        session.connection()
        assert ana.client.get("/account/sessions").status_code == 200


def test_what_remains_is_told_only_when_it_is_no_guess() -> None:
    assert remaining(1, 100, 10) is None
    assert remaining(50, 100, 1) is None
    assert remaining(25, 100, 10) == 30
    assert remaining(0, 0, 60) is None


def test_a_process_that_cannot_be_started_leaves_an_interrupted_job(
    school: TestSchool, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, _, digest = ready_to_import(school)
    with apart(school) as cleo:
        monkeypatch.setattr(sys, "executable", "/nowhere/python")
        with pytest.raises(OSError, match="nowhere"):
            starting.start(school.settings, "0" * 32, 0)
        cleo.post("/import/commit", 503, digest=digest, reason="")
        assert "interrupted, and nothing was changed" in cleo.get("/")
