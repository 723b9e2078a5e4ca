"""Long work: begun by a request, done aside from it, seen while it lasts, whole or not."""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from gradebook.records import headway
from gradebook.records.commands import jobs, roles
from gradebook.records.jobs import Kind, remaining
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.jobs import Job
from gradebook.records.working import doing
from tests.cast import SEED, TestSchool, Visitor
from tests.generator import Made, make
from tests.walks.test_import import bring_in, upload

JOB = re.compile(r"/jobs/([0-9a-f]{32})")
STUDENTS = 6
AT_ONCE_MS = 30
LOOKS, EVERY = 6000, 0.01
"""How often the work is looked at, seconds apart, before a test gives up."""
ENOUGH = 600
"""Seconds for work that takes a few, on a machine that has other work."""


def impatient(school: TestSchool) -> TestSchool:
    """The school with a server to which 3 students or 21 grades are long work."""
    return change(school, at_once_ms=AT_ONCE_MS)


def change(school: TestSchool, **settings: Any) -> TestSchool:
    """The school with other settings of its server."""
    school.settings = replace(school.settings, **settings)
    office = school.app.extensions["windtee"]
    school.app.extensions["windtee"] = replace(office, settings=school.settings)
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
    assert f"{STUDENTS} students imported" in send(cleo, digest_in(preview))
    return cleo, made, digest_in(upload(cleo, made.grades_csv))


def digest_in(preview: str) -> str:
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', preview)
    assert found, preview[:2000]
    return found[1]


def send(who: Visitor, digest: str) -> str:
    return who.post("/import/commit", digest=digest, reason="")


def job_in(page: str) -> str:
    found = JOB.search(page)
    assert found, page[:2000]
    return found[1]


def leave_to_processes(school: TestSchool) -> None:
    """Let the school's server leave long work to processes from now on."""
    (school.settings.data / "school.key").write_text(SEED.hex())
    change(school, apart=True)


def ended(folder: Path, job: str) -> None:
    """Wait until nobody is at a job: its lock tells."""
    wait = "import fcntl, sys; fcntl.flock(open(sys.argv[1]), fcntl.LOCK_SH)"
    words = [sys.executable, "-c", wait, str(folder / f"{job}.lock")]
    waiting = subprocess.run(words, check=False, timeout=ENOUGH)
    assert waiting.returncode == 0


@contextmanager
def halted_at(folder: Path, job: str, step: str) -> Iterator[int]:
    """The process that works on a job, halted once it tells of a step; goes on afterwards.

    It is halted before each look, so that it cannot go on to the next step in between.
    """
    pid, pause = pid_of(job), threading.Event()
    for _ in range(LOOKS):
        halt(pid)
        if headway.count_of(folder, job).step == step:
            break
        os.kill(pid, signal.SIGCONT)
        pause.wait(EVERY)
    try:
        assert headway.count_of(folder, job).step == step
        yield pid
    finally:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGCONT)


def halt(pid: int) -> None:
    """Stop a process of ours, and wait until it has come to a halt."""
    os.kill(pid, signal.SIGSTOP)
    came = os.waitid(os.P_PID, pid, os.WSTOPPED | os.WEXITED | os.WNOWAIT)
    assert came is not None
    assert came.si_code == os.CLD_STOPPED, "ended before it came to that"


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
    other = digest_in(upload(cleo, f"{made.grades_csv}\n"))
    send(cleo, digest)
    page = send(cleo, other)
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


def test_work_aside_is_counted_and_when_killed_nothing_is_changed_until_it_is_started_again(
    either_school: TestSchool,
) -> None:
    school = either_school
    cleo, made, digest = ready_to_import(school)
    folder = headway.folder_in(school.settings.data)
    leave_to_processes(school)
    before = acts_in(cleo.get("/audit"))
    page = send(cleo, digest)
    job = job_in(page)
    assert "Importing a file: under way" in page
    assert job_in(send(cleo, digest)) == job, "asked twice, it is one work"
    with halted_at(folder, job, "write") as pid:
        told = cleo.client.get(f"/jobs/{job}/counts").json
        assert told["state"] == "asked"
        assert told["words"] == f"{told['done']} of {made.lessons} lessons written"
        assert told["words"] in cleo.get("/"), "the home page leads back"
        cleo.post(f"/jobs/{job}/again", 409)
        os.kill(pid, signal.SIGKILL)
    ended(folder, job)
    assert "Importing a file: interrupted" in cleo.get(f"/jobs/{job}")
    assert "interrupted, and nothing was changed" in cleo.get("/")
    after = cleo.get("/audit?prove=1")
    assert "Everything is as it was signed" in after
    assert acts_in(after) == before + 1, "that it was asked for, and no more"
    cleo.get(f"/jobs/{job}")
    cleo.post(f"/jobs/{job}/again")
    ended(folder, job)
    done = f"{made.lessons} lessons with {made.grades} grades imported."
    assert done in cleo.get(f"/jobs/{job}")
    assert "Everything is as it was signed" in cleo.get("/audit?prove=1")
    cleo.post(f"/jobs/{job}/again", 409)


def acts_in(page: str) -> int:
    """How many acts the page of the audit counts."""
    found = re.search(r"(\d+) acts in the trail", page)
    assert found
    return int(found[1])


def test_work_that_is_forgotten_while_it_waits_is_not_done(school: TestSchool) -> None:
    cleo, made, digest = ready_to_import(school)
    with school.database.write() as session:
        row = jobs.ask(school.act(session, "cleo"), "2" * 32, Kind.IMPORT, {"subject": digest})
        session.flush()
        session.delete(row)
    doing.do(school.settings, school.database, "2" * 32, pytest.fail)
    assert (school.settings.data / "imports" / digest).exists()
    assert f"{made.lessons} lessons with {made.grades} grades imported." in send(cleo, digest)


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
    cleo, _, digest = ready_to_import(school)
    leave_to_processes(school)
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    cleo.post("/import/commit", 503, digest=digest, reason="")
    assert "interrupted, and nothing was changed" in cleo.get("/")
