"""The state of an installation on its page and on the command line, from real facts."""

import os
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import text

from gradebook.cli import main
from gradebook.records import inspection
from gradebook.records.database import Database, open_engine
from gradebook.records.inspection import filesystem_of, look_over, newest_in, open_files
from gradebook.records.keeping import backup
from gradebook.records.keeping.sealing import Identity
from gradebook.records.soundness.facts import Postgres, Sqlite
from gradebook.settings import SCHOOL_KEY, settings_in
from tests.cast import SEED, TestSchool, close_school, open_school
from tests.postgres import Cluster

MOUNTS = """\
/dev/sda1 / ext4 rw 0 0
proc /proc proc rw 0 0
nas:/school /srv nfs4 rw 0 0
/dev/sdb1 /srv/fast xfs rw 0 0
nas:/old /mnt/the\\040old cifs rw 0 0
tmpfs /srv/fast tmpfs rw 0 0
broken
"""


@pytest.fixture(autouse=True)
def on_a_disk(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The machine of the tests may keep its temporary files in memory."""
    mounts = tmp_path_factory.mktemp("proc") / "mounts"
    mounts.write_text("/dev/sda1 / ext4 rw 0 0\n")
    monkeypatch.setattr(inspection, "MOUNTS", mounts)


def titles(page: str) -> list[str]:
    """What is found, as the page says it."""
    return re.findall(r'<h2>\s*<span class="verdict [^>]*>([^<]+)<', unescape(page))


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/school", "ext4"),
        ("/srv/school", "nfs4"),
        ("/srv/fast/school", "tmpfs"),
        ("/srvfast", "ext4"),
        ("/mnt/the old/data", "cifs"),
    ],
)
def test_the_deepest_mount_says_the_file_system(folder: str, kind: str) -> None:
    assert filesystem_of(Path(folder), MOUNTS) == kind


def test_nothing_is_known_where_the_machine_does_not_say() -> None:
    assert filesystem_of(Path("/srv"), "") == ""


def test_files_behind_a_closed_folder_are_closed(tmp_path: Path) -> None:
    (tmp_path / "imports").mkdir()
    for name, mode in (("windtee.db", 0o644), ("cookie.key", 0o600), ("imports/x.csv", 0o640)):
        (tmp_path / name).touch()
        (tmp_path / name).chmod(mode)
    tmp_path.chmod(0o755)
    assert open_files(tmp_path) == ("imports/x.csv", "windtee.db")
    tmp_path.chmod(0o700)
    assert open_files(tmp_path) == ()


def test_the_newest_backup_counts(tmp_path: Path) -> None:
    assert newest_in(tmp_path / "backups") is None
    folder = tmp_path / "backups"
    folder.mkdir()
    assert newest_in(folder) is None
    for name, day in (("a.windtee-backup", 3), ("b.windtee-backup", 1)):
        (folder / name).touch()
        at = datetime(2026, 5, day, tzinfo=UTC).timestamp()
        os.utime(folder / name, (at, at))
    assert newest_in(folder) == datetime(2026, 5, 3, tzinfo=UTC)


def test_the_database_is_met_as_it_runs(either_school: TestSchool) -> None:
    with either_school.database.read() as session:
        facts = look_over(session, either_school.settings, debug=False)
    met = facts.storage
    if isinstance(met, Sqlite):
        assert (met.race_free, met.journal, met.synchronous) == (True, "wal", 2)
        assert facts.clocks.database is None
    else:
        assert isinstance(met, Postgres)
        assert met.superuser  # the role of the tests' own cluster, which runs without fsync
        assert met.owns_tables
        assert met.settings["fsync"] == "off"
        assert met.settings["synchronous_commit"] == "on"
        assert facts.clocks.database is not None
    assert facts.clocks.newest is not None
    assert facts.clocks.newest.tzinfo is not None
    assert facts.folder.size > facts.folder.free > 0


def test_a_role_that_only_reads_and_writes_is_neither_owner_nor_superuser(
    postgres_cluster: Cluster, fresh_postgres: str, tmp_path: Path
) -> None:
    opened = open_school(tmp_path, fresh_postgres)
    role = f"clerk_{uuid4().hex}"
    postgres_cluster.execute(f"CREATE ROLE {role} LOGIN")
    with opened.database.engine.begin() as connection:
        connection.execute(text(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {role}"))
    close_school(opened)
    engine = open_engine(fresh_postgres.replace("postgres@", f"{role}@"))
    with Database(engine).read() as session:
        met = look_over(session, opened.settings, debug=False).storage
    engine.dispose()
    assert isinstance(met, Postgres)
    assert (met.superuser, met.owns_tables) == (False, False)


@pytest.mark.parametrize("name", ["flo", "cleo", "gus"])
def test_who_answers_for_the_school_sees_what_is_unsafe(school: TestSchool, name: str) -> None:
    who = school.visitor(name)
    assert 'href="/installation"' in who.get("/")
    page = who.get("/installation")
    assert "1 thing about this installation is unsafe" in page
    assert titles(page) == ["There is no backup"]
    assert "journal wal, synchronous full" in page


def test_nobody_else_sees_it(school: TestSchool) -> None:
    for name in ("ana", "ben", "eve"):
        who = school.visitor(name)
        who.get("/installation", 403)
        assert "/installation" not in who.get("/")


def test_the_page_is_calm_once_there_is_a_backup(school: TestSchool) -> None:
    back_up(school.settings.data, school.clock.at)
    page = school.visitor("flo").get("/installation")
    assert titles(page) == []
    assert "safe as far as it can be seen" in page


def back_up(data: Path, at: datetime) -> None:
    """A backup written at this moment."""
    file = data / "backups" / "one.windtee-backup"
    file.parent.mkdir()
    file.touch()
    os.utime(file, (at.timestamp(), at.timestamp()))


def test_a_backup_outside_is_counted_and_should_be_sealed(
    school: TestSchool, tmp_path_factory: pytest.TempPathFactory
) -> None:
    away, flo = tmp_path_factory.mktemp("away"), school.visitor("flo")
    made = backup.back_up(school.settings, school.database, backup.Wanted(away))
    assert titles(flo.get("/installation")) == [f"The backup {made.name} is not sealed"]
    sealed = backup.Wanted(away, sealed_for=Identity(bytes(32)).recipient)
    backup.back_up(school.settings, school.database, sealed)
    assert titles(flo.get("/installation")) == []


def test_a_clock_that_was_set_back_is_told(school: TestSchool) -> None:
    back_up(school.settings.data, school.clock.at)
    flo = school.visitor("flo")
    school.clock.at -= timedelta(minutes=30)
    assert titles(flo.get("/installation")) == [
        "The clock stands 30 minutes before the newest act on file"
    ]


def test_a_real_school_with_an_account_of_the_demo_is_told(school: TestSchool) -> None:
    back_up(school.settings.data, school.clock.at)
    add = "UPDATE person SET email = 'owen@kelpmoor.example' WHERE name = 'Hal'"
    with school.database.write() as session:
        session.execute(text(add))
    assert titles(school.visitor("flo").get("/installation")) == [
        "1 of the demo's printed accounts can sign in"
    ]


def doctor(school: TestSchool, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Exit code and output of the command for this school."""
    code = main(["doctor", "--data", str(school.settings.data)])
    return code, capsys.readouterr().out


def test_the_command_says_the_same_and_fails_while_something_is_unsafe(
    school: TestSchool, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (school.settings.data / SCHOOL_KEY).write_text(SEED.hex())
    (school.settings.data / SCHOOL_KEY).chmod(0o600)
    code, out = doctor(school, capsys)
    assert code == 1
    assert "UNSAFE: There is no backup.\n  Let windtee backup run every night" in out
    assert out.endswith("Unsafe: 1.\n")
    back_up(school.settings.data, school.settings.now().astimezone(UTC))
    os.utime(school.settings.data / "backups" / "one.windtee-backup")
    assert doctor(school, capsys)[0] == 0
    monkeypatch.setenv("WINDTEE_HOSTS", "school.example")
    monkeypatch.setenv("FLASK_DEBUG", "1")
    code, out = doctor(school, capsys)
    assert code == 1
    assert "UNSAFE: Plain http on school.example." in out
    assert "UNSAFE: Debugging is on." in out
    monkeypatch.setenv("WINDTEE_HTTPS", "1")
    monkeypatch.delenv("FLASK_DEBUG")
    assert doctor(school, capsys)[0] == 0


def test_an_empty_folder_is_told_to_upgrade_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["doctor", "--data", str(tmp_path)]) == 1
    assert "run windtee upgrade first" in capsys.readouterr().err


def test_a_new_school_is_kept_from_other_accounts_of_the_machine(tmp_path: Path) -> None:
    data = tmp_path / "new"
    settings_in(data)
    assert data.stat().st_mode & 0o777 == 0o700
    assert (data / "cookie.key").stat().st_mode & 0o777 == 0o600


def test_whether_the_server_lives_is_said_to_anyone_and_nothing_else(
    school: TestSchool,
) -> None:
    answer = school.visitor().client.get("/alive")
    assert answer.get_json() == {"status": "alive"}
