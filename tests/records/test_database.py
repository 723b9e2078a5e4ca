"""How connections behave: what they promise, and what is said when the database cannot."""

import socket
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.request import urlopen

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.exc import DBAPIError

from gradebook.records import database, disk, schema
from gradebook.records.database import Database, open_engine, wal_is_safe
from gradebook.records.disk import share_of
from gradebook.records.faults import BusyError, DiskError, FullError
from gradebook.settings import settings_in
from tests.card_desk import Desk
from tests.cast import SEED, TestSchool, close_school, open_school
from tests.run import ROOT
from tests.walks.test_main_job import FILLED

SERVE = [sys.executable, "-m", "gradebook", "serve"]
HOST = "::1"
JSON = {"Accept": "application/json"}


def test_every_connection_to_sqlite_keeps_what_it_is_given(school: TestSchool) -> None:
    wanted = {
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 15000,
    }
    for act in (school.database.read, school.database.write):
        with act() as session:
            found = {
                name: session.execute(text(f"PRAGMA {name}")).scalar_one() for name in wanted
            }
            assert found == wanted
            journal = session.execute(text("PRAGMA journal_mode")).scalar_one()
            assert journal == ("wal" if wal_is_safe(version()) else "delete")


def test_the_database_itself_refuses_to_change_anything_for_a_reader(
    either_school: TestSchool,
) -> None:
    here = either_school.database
    change = text("UPDATE school SET name = 'Another'")
    with pytest.raises(DBAPIError, match=r"read-?only"), here.read() as session:
        session.execute(change)
    with here.write() as session:  # the same connection, handed back as it came
        session.execute(change)
    with here.read() as session:
        assert session.execute(text("SELECT name FROM school")).scalar_one() == "Another"


def version() -> tuple[int, ...]:
    engine = open_engine("sqlite://")
    with engine.connect() as connection:
        said = connection.exec_driver_sql("SELECT sqlite_version()").scalar_one()
    engine.dispose()
    return tuple(map(int, said.split(".")))


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
    ],
)
def test_write_ahead_logging_waits_for_a_sqlite_without_the_race(
    version: tuple[int, ...], safe: bool
) -> None:
    """The versions are those the release notes of SQLite name (from stack research)."""
    assert wal_is_safe(version) is safe


def test_a_new_school_is_its_owner_s_alone(tmp_path: Path) -> None:
    data = tmp_path / "new"
    settings = settings_in(data)
    open_engine(settings.database).dispose()
    modes = {path.name: path.stat().st_mode & 0o777 for path in [data, *data.iterdir()]}
    private = dict.fromkeys(("cookie.key", "school.key", "windtee.db"), 0o600)
    assert modes == {"new": 0o700, **private}


MOUNTS = """\
/dev/sda1 / ext4 rw 0 0
server:/home /srv/schools nfs4 rw 0 0
/dev/sdb1 /srv/schools/local ext4 rw 0 0
//nas/share /srv/our\\040share cifs rw 0 0
"""


@pytest.mark.parametrize(
    ("file", "kind"),
    [
        ("/var/lib/windtee.db", ""),
        ("/srv/schools/windtee.db", "nfs4"),
        ("/srv/schools/local/windtee.db", ""),
        ("/srv/our share/windtee.db", "cifs"),
        ("/srv/schoolsroom/windtee.db", ""),
    ],
)
def test_a_network_share_is_known(file: str, kind: str) -> None:
    assert share_of(Path(file), MOUNTS) == kind


def test_a_school_on_a_network_share_is_not_served(
    school: TestSchool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"server:/home {tmp_path} nfs4 rw 0 0\n")
    monkeypatch.setattr(disk, "MOUNTS", mounts)
    with pytest.raises(schema.SchemaError, match=r"network share \(nfs4\)"):
        schema.check(school.database.engine)


@pytest.fixture(params=["sqlite", "postgres"])
def hasty(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[TestSchool]:
    """A school that waits for its turn for a twentieth of a second only."""
    monkeypatch.setattr(database, "WAIT_SECONDS", 0.05)
    postgres = request.param == "postgres"
    url = request.getfixturevalue("fresh_postgres") if postgres else None
    opened = open_school(tmp_path, url)
    yield opened
    close_school(opened)


@contextmanager
def locked(school: TestSchool) -> Iterator[None]:
    """Somebody else holds the records."""
    engine = school.database.engine
    if engine.dialect.name == "sqlite":
        other = database.plain_file(Path(str(engine.url.database)))
        other.isolation_level = None
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")
        other.close()
        return
    other_engine = create_engine(engine.url)
    with other_engine.connect() as connection:
        connection.execute(text("LOCK TABLE lesson_record IN SHARE MODE"))
        yield
    other_engine.dispose()


def test_a_locked_database_asks_to_come_back(hasty: TestSchool) -> None:
    desk = Desk(hasty)
    with locked(hasty):
        answer = desk.send(503, remark__hover="Calm air.")
        assert answer.headers["Retry-After"] == "10"
        assert "The database is busy" in answer.text
    assert desk.stored().version == 1
    assert "Calm air." in desk.save(remark__hover="Calm air.")


def test_the_script_of_the_card_is_told_in_its_own_way(hasty: TestSchool) -> None:
    desk = Desk(hasty)
    data = {"csrf_token": desk.ben.token, "version": "1", "remark-hover": "Calm air."}
    with locked(hasty):
        answer = desk.ben.client.post(f"/lessons/{desk.record}", data=data, headers=JSON)
    assert answer.status_code == 503
    assert "busy" in answer.get_json()["error"]


def pages(school: TestSchool, more: int) -> None:
    """Let the database grow by some pages (of 4 KiB) and no further."""
    engine = school.app.extensions["windtee"].database.engine
    with engine.connect() as connection:
        size = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {size + more}")


def test_a_full_disk_is_told_and_what_was_stored_stays(school: TestSchool) -> None:
    desk = Desk(school)
    desk.save(remark__hover="Calm air.")
    pages(school, 0)
    long = {f"remark-{task}": "x" * 1990 for task in ("preflight", "run-up", "hover")}
    data = {**FILLED, **long, "csrf_token": desk.ben.token, "version": "2"}
    answer = desk.ben.client.post(f"/lessons/{desk.record}", data=data, headers=JSON)
    assert answer.status_code == 507, answer.text
    assert "disk of the server is full" in answer.get_json()["error"]
    assert "Calm air." in desk.ben.get(f"/lessons/{desk.record}")
    assert desk.stored().version == 2
    pages(school, 1000)
    answer = desk.ben.client.post(f"/lessons/{desk.record}", data=data, headers=JSON)
    assert answer.status_code == 200
    assert desk.stored().version == 3


@pytest.mark.parametrize(
    ("state", "fault"),
    [
        ("53100", FullError),
        ("40P01", BusyError),
        ("57P01", BusyError),
        ("55P03", BusyError),
        ("58030", DiskError),
    ],
)
def test_troubles_of_postgresql_are_told_apart(
    fresh_postgres: str, state: str, fault: type[Exception]
) -> None:
    """The states are those of PostgreSQL's own table of error codes (from memory)."""
    engine = open_engine(fresh_postgres)
    raising = f"DO $$ BEGIN RAISE EXCEPTION 'x' USING ERRCODE = '{state}'; END $$"
    with pytest.raises(fault), Database(engine).write() as session:
        session.execute(text(raising))
    engine.dispose()


def test_a_server_that_is_not_there_is_told_as_busy() -> None:
    engine = open_engine("postgresql+psycopg://nobody@127.0.0.1:9/none")
    with pytest.raises(BusyError), Database(engine).read() as session:
        session.execute(text("SELECT 1"))


FORK = """
import os, sys
from gradebook.records.database import open_engine
engine = open_engine(sys.argv[1])
number = lambda: engine.connect().exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
with engine.connect() as connection:
    own = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
ends = os.pipe()
if not os.fork():
    with engine.connect() as connection:
        theirs = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    os.write(ends[1], str(theirs).encode())
    os._exit(0)
os.wait()
theirs = int(os.read(ends[0], 20))
with engine.connect() as connection:
    again = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
print(own, theirs, again)
"""


def test_a_forked_process_begins_with_connections_of_its_own(fresh_postgres: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", FORK, fresh_postgres],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    own, theirs, again = done.stdout.split()
    assert own != theirs
    assert own == again


def sockets(process: int) -> set[str]:
    """The sockets a process holds (Linux); one closed while we look is not held.

    Nor does a process hold any that ended while we looked.
    """
    found = set()
    with suppress(FileNotFoundError, ProcessLookupError):
        for path in list(Path(f"/proc/{process}/fd").iterdir()):
            with suppress(FileNotFoundError):
                found.add(str(path.readlink()))
    return {link for link in found if link.startswith("socket:")}


def to_port(port: int) -> set[str]:
    """Every socket of this machine that is connected to a port (Linux)."""
    lines = Path("/proc/net/tcp").read_text().splitlines()[1:]
    rows = [line.split() for line in lines]
    return {f"socket:[{row[9]}]" for row in rows if row[2].endswith(f":{port:04X}")}


def test_two_workers_of_the_server_share_no_connection(
    tmp_path: Path, fresh_postgres: str
) -> None:
    """On the loopback of IPv6, which has to be there: no other test listens on it."""
    close_school(open_school(tmp_path, fresh_postgres))
    (tmp_path / "school.key").write_text(SEED.hex())
    port = free_port()
    server = subprocess.Popen(
        [*SERVE, "--data", str(tmp_path), "--host", HOST, "--port", str(port)],
        cwd=ROOT,
        env={"WINDTEE_DATABASE": fresh_postgres},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        held = held_by_workers(server, port, make_url(fresh_postgres).port or 0)
    finally:
        server.terminate()
        said = server.communicate()[1]
    assert len(held) == 2, said
    assert not held[0] & held[1]


def held_by_workers(server: subprocess.Popen[str], port: int, database: int) -> list[set[str]]:
    """What each worker holds of the database, once both have answered."""
    tasks = Path(f"/proc/{server.pid}/task/{server.pid}/children")
    while server.poll() is None:
        with ThreadPoolExecutor(8) as many:
            list(many.map(alive, [port] * 8))
        of_the_database = to_port(database)
        held = [sockets(int(child)) & of_the_database for child in tasks.read_text().split()]
        if len(held) == 2 and all(held):
            assert not sockets(server.pid) & of_the_database
            return held
    return []


def alive(port: int) -> bool:
    try:
        with urlopen(f"http://[{HOST}]:{port}/alive") as answer:
            return bool(answer.status == 200)
    except OSError:
        return False


def free_port() -> int:
    with socket.socket(socket.AF_INET6) as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
        return port
