"""Full disks, locked databases, wrong clocks, broken networks: told apart, and nothing lost."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier

import pytest
from sqlalchemy import Engine, event

from gradebook.records.commands import signing
from gradebook.records.database import plain_file
from tests.cast import SECRET, TestSchool, close_school
from tests.faults import keeping
from tests.faults.clients import Browser, Client, Progress
from tests.faults.cutting_proxy import cutting_proxy
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.history import Attempt, Tally, tally
from tests.faults.powercut import ALONE
from tests.faults.processes import Group, children, running_group
from tests.faults.writer import Writer
from tests.run import ROOT, STRACE
from tests.walks.test_main_job import FILLED, lesson_form, open_card


@contextmanager
def with_pragma(engine: Engine, pragma: str) -> Iterator[None]:
    """Every connection of the engine is opened with this setting while the block runs."""

    def change(connection, _record) -> None:
        connection.execute(f"PRAGMA {pragma}")

    engine.dispose()
    event.listen(engine, "connect", change)
    yield
    event.remove(engine, "connect", change)
    engine.dispose()


def compared(made: DrillSchool, attempts: list[Attempt]) -> Tally:
    """What the clients were told, held against the database."""
    with made.school.database.read() as session:
        held = keeping.kept(session, {one.record for one in attempts})
    found = tally(attempts, held)
    keeping.prove(made.school, found)
    return found


@pytest.fixture
def drill(tmp_path: Path) -> Iterator[DrillSchool]:
    made = DrillSchool(tmp_path)
    yield made
    close_school(made.school)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[DrillSchool, Group]]:
    """A school with its server running, for all who need no other."""
    made = DrillSchool(tmp_path_factory.mktemp("served"))
    settings = made.school.settings
    with running_group(settings.data, settings.database) as started:
        yield made, started
    close_school(made.school)


def test_on_a_full_disk_what_was_acknowledged_stays_and_the_rest_can_wait(
    drill: DrillSchool,
) -> None:
    drafts = drill.drafts("teacher0", 25)
    engine = drill.school.database.engine
    with engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    writer = Writer(drill.school.database)
    with with_pragma(engine, f"max_page_count={pages + 12}"):
        said = [writer.sign(one.record, one.version) for one in drafts]
    full = [one for one in said if one.endswith("FullError")]
    signed = [one.split() for one in said if one.startswith("signed")]
    assert full
    assert signed
    told = [Attempt(one[1], 0, 0, 303, int(one[2]), one[3]) for one in signed]
    assert compared(drill, told).clean
    again = [one for one in drafts if one.record in {line.split()[1] for line in full}]
    assert all(writer.sign(one.record, one.version).startswith("signed") for one in again)


WELL = {
    name: "perform" if name.startswith("level-") else value
    for name, value in FILLED.items()
    if not name.startswith("errors-")
}
"""A card with every target met."""


def filled_card(school: TestSchool):
    """Ben at a card that is ready to sign: his browser, the record, the form."""
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    form = lesson_form(ben.get(f"/lessons/{record}/review"))
    return ben, record, {**form, "secret": SECRET}


def test_a_full_disk_is_told_and_the_card_is_kept(school: TestSchool) -> None:
    ben, record, form = filled_card(school)
    engine = school.app.extensions["windtee"].database.engine
    with with_pragma(engine, "max_page_count=1"):
        answer = ben.send(f"/lessons/{record}/sign", form, 507)
    assert "disk of the server is full" in answer.text
    assert "KM-H1" in ben.get(f"/lessons/{record}")
    assert "Entry" in ben.send(f"/lessons/{record}/sign", form).text


def test_a_locked_database_is_told_and_the_same_form_goes_through_later(
    school: TestSchool,
) -> None:
    ben, record, form = filled_card(school)
    engine = school.app.extensions["windtee"].database.engine
    with closing(plain_file(school.settings.data / "windtee.db")) as other:
        other.isolation_level = None
        other.execute("BEGIN IMMEDIATE")
        with with_pragma(engine, "busy_timeout=20"):
            answer = ben.send(f"/lessons/{record}/sign", form, 503)
        other.execute("ROLLBACK")
    assert int(answer.headers["Retry-After"]) > 0
    assert "Entry" in ben.send(f"/lessons/{record}/sign", form).text


STEPS = (
    timedelta(days=730),
    timedelta(days=-2),
    datetime(2028, 2, 29, 23, 59, 59, tzinfo=UTC),
    datetime(2028, 3, 26, 0, 59, 59, tzinfo=UTC),  # Lisbon: an hour is left out after it
    datetime(2028, 10, 29, 0, 30, tzinfo=UTC),  # and one comes twice
    datetime(2028, 10, 29, 1, 30, tzinfo=UTC),
    timedelta(days=-2),
)


def test_a_clock_that_jumps_stops_nobody_and_is_shown(drill: DrillSchool) -> None:
    drafts, school = drill.drafts("teacher0", len(STEPS)), drill.school
    places = []
    for draft, step in zip(drafts, STEPS, strict=True):
        moment = school.clock.at + step if isinstance(step, timedelta) else step
        school.clock.at = moment
        with school.database.write() as session:
            wanted = signing.SignRecord(draft.record, draft.version)
            made = signing.sign_record(school.act(session, "teacher0"), wanted)
            places.append(made.sequence)
    assert places == sorted(places)
    assert compared(drill, []).clean
    page = school.visitor("cleo").get("/installation")
    assert "The clock stands" in page
    assert "before the newest act on file" in page
    school.clock.pass_days(3)
    assert "before the newest act on file" not in school.visitor("cleo").get("/installation")


def test_one_signature_sent_a_hundred_times_is_one(
    served: tuple[DrillSchool, Group],
) -> None:
    drill, group = served
    draft = drill.drafts("teacher0", 1)[0]
    browser = Browser(group.address, "teacher0")
    browser.sign_in()
    with ThreadPoolExecutor(8) as pool:
        attempts = list(pool.map(lambda _: browser.sign(draft), range(100)))
    assert sorted({one.status for one in attempts}) == [303, 409]
    found = compared(drill, attempts)
    assert found.clean, found
    assert found.acknowledged == 1


def test_two_devices_save_one_card_and_one_of_them_is_told(
    served: tuple[DrillSchool, Group],
) -> None:
    drill, group = served
    devices = [Browser(group.address, "teacher0") for _ in range(2)]
    for device in devices:
        device.sign_in()
    start = Barrier(2)

    def save(device: Browser, draft: Draft, words: str):
        start.wait()
        fields = {**WELL, "version": str(draft.version), "remarks": words, "do": "save"}
        return device.ask("POST", f"/lessons/{draft.record}", **fields)

    for draft in drill.drafts("teacher0", 8):
        texts = ["from the phone", "from the tablet"]
        with ThreadPoolExecutor(2) as pool:
            answers = list(pool.map(save, devices, [draft] * 2, texts))
        assert sorted(one.status for one in answers) == [303, 409]
        loser = next(at for at, one in enumerate(answers) if one.status == 409)
        assert texts[loser] in answers[loser].text
        assert texts[1 - loser] in answers[loser].text
        kept = devices[0].ask("GET", f"/lessons/{draft.record}").text
        assert texts[1 - loser] in kept
        newer = replace(draft, version=draft.version + 1)
        with ThreadPoolExecutor(2) as pool:
            signed = list(pool.map(Browser.sign, devices, [newer] * 2))
        assert sorted(one.status or 0 for one in signed) == [303, 409]
        assert compared(drill, signed).clean


def test_a_server_that_is_stopped_in_the_middle_goes_on(
    served: tuple[DrillSchool, Group],
) -> None:
    drill, group = served
    browser, progress = Browser(group.address, "teacher0"), Progress()
    browser.sign_in()
    client = Client(browser, progress)
    client.start()
    for draft in drill.drafts("teacher0", 10):
        client.drafts.put(draft)
    for events in (1, 2, 3):
        assert progress.wait_for(events)
        pids = (group.master, *children(group.master))
        group.signal(signal.SIGSTOP)
        states = [Path(f"/proc/{pid}/stat").read_text().split()[2] for pid in pids]
        assert len(states) == 3
        group.signal(signal.SIGCONT)
    client.drafts.put(None)
    client.join()
    found = compared(drill, client.attempts)
    assert found.clean, found
    assert (found.acknowledged, found.unknown) == (10, 0)


def test_an_answer_lost_on_the_way_is_a_signature_all_the_same(
    served: tuple[DrillSchool, Group],
) -> None:
    drill, group = served
    browser = Browser(group.address, "teacher0")
    browser.sign_in()
    attempts = []
    with cutting_proxy(group.address) as cut:
        for draft in drill.drafts("teacher0", 5):
            behind = Browser(cut, "teacher0")
            behind.cookies, behind.token = dict(browser.cookies), browser.token
            behind.named = group.address
            attempts += [behind.sign(draft), browser.sign(draft)]
    assert [one.status for one in attempts] == [None, 409] * 5
    found = compared(drill, attempts)
    assert found.clean, found
    assert (found.unknown, found.committed) == (5, 5)


@pytest.mark.parametrize("when", [1, 3, 6])  # the second is of the folder
def test_nothing_is_acknowledged_that_the_disk_refused(drill: DrillSchool, when: int) -> None:
    drafts, school = drill.drafts("teacher0", 8), drill.school
    asked = "".join(f"{one.record} {one.version}\n" for one in drafts)
    inject = f"inject=fsync,fdatasync:error=EIO:when={when}"
    done = subprocess.run(
        [STRACE, "-f", "-qq", "-o", os.devnull, "-e", "trace=fsync,fdatasync", "-e", inject,
         sys.executable, "-m", "tests.faults.writer", school.settings.database],
        cwd=ROOT, env={**os.environ, **ALONE}, input=asked, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    said = [line.split() for line in done.stdout.splitlines()]
    signed = [one for one in said if one[0] == "signed"]
    refused = [one for one in said if one[0] == "refused"]
    assert [one for one in refused if one[-1].endswith("DiskError")] == refused[:1]
    told = [Attempt(one[1], 0, 0, 303, int(one[2]), one[3]) for one in signed]
    found = compared(drill, told)
    assert found.clean, found
