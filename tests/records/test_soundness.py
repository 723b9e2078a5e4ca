"""What is unsafe about an installation is named, with what to do; what is sound is not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from gradebook.records.soundness.facts import (
    Clocks,
    Facts,
    Folder,
    HouseKey,
    Postgres,
    Serving,
    Sqlite,
)
from gradebook.records.soundness.judging import described, findings
from gradebook.words import Language, speaking, spoken

NOW = datetime(2026, 5, 20, 9, 0, tzinfo=UTC)
GB = 1_000_000_000
SQLITE = Sqlite("3.53.4", race_free=True, journal="wal", synchronous=2)
ON = {
    "fsync": "on",
    "full_page_writes": "on",
    "synchronous_commit": "on",
    "data_checksums": "on",
}
POSTGRES = Postgres("15.18", superuser=False, owns_tables=False, settings=ON)
FOLDER = Folder("ext4", (), 50 * GB, 100 * GB, NOW - timedelta(hours=3))
SERVING = Serving(("localhost", "127.0.0.1"), False, False, False, 0)
CLOCKS = Clocks(NOW, None, NOW - timedelta(minutes=1))
SOUND = Facts(SQLITE, FOLDER, SERVING, CLOCKS)


def told(facts: Facts) -> list[tuple[str, bool]]:
    """Title and gravity of every finding."""
    return [(one.title, one.unsafe) for one in findings(facts)]


def test_needles_of_an_earlier_arithmetic_are_told_and_put_nothing_at_risk() -> None:
    title = "Needles are of an earlier arithmetic than this program's"
    assert told(replace(SOUND, needles=3)) == [(title, False)]


def storage(**changes: object) -> Facts:
    return replace(SOUND, storage=replace(SQLITE, **changes))


def postgres(**changes: object) -> Facts:
    return replace(SOUND, storage=replace(POSTGRES, **changes))


def folder(**changes: object) -> Facts:
    return replace(SOUND, folder=replace(FOLDER, **changes))


def serving(**changes: object) -> Facts:
    return replace(SOUND, serving=replace(SERVING, **changes))


def clocks(**changes: object) -> Facts:
    return replace(SOUND, clocks=replace(CLOCKS, **changes))


PUBLIC = ("localhost", "127.0.0.1", "school.example")


@pytest.mark.parametrize(
    "facts",
    [
        SOUND,
        postgres(),
        storage(synchronous=3),
        storage(journal="delete"),
        postgres(settings={**ON, "synchronous_commit": "remote_apply"}),
        replace(postgres(), folder=replace(FOLDER, filesystem="nfs4")),
        folder(filesystem=""),
        folder(free=11 * GB, size=1000 * GB),
        folder(backed_up=NOW - timedelta(hours=24)),
        serving(hosts=PUBLIC, https=True),
        clocks(newest=None),
        clocks(newest=NOW),
        clocks(database=NOW + timedelta(minutes=10)),
    ],
)
def test_what_is_sound_is_passed_over(facts: Facts) -> None:
    assert told(facts) == []


RACE = storage(version="3.40.1", race_free=False)


@pytest.mark.parametrize(
    ("facts", "title", "unsafe"),
    [
        (RACE, "SQLite 3.40.1 can lose a commit in its write-ahead log", True),
        (
            storage(version="3.40.1", race_free=False, journal="delete"),
            "SQLite 3.40.1 is old: the slower rollback journal is used",
            False,
        ),
        (storage(synchronous=1), "SQLite does not wait for the disk", True),
        (folder(filesystem="nfs4"), "The database lies on a network file system (nfs4)", True),
        (folder(filesystem="tmpfs"), "The database lies in memory", True),
        (postgres(superuser=True), "Windtee's PostgreSQL role is a superuser", True),
        (postgres(owns_tables=True), "Windtee's PostgreSQL role owns the tables", True),
        (postgres(settings={**ON, "fsync": "off"}), "PostgreSQL runs with fsync off", True),
        (
            postgres(settings={**ON, "synchronous_commit": "off"}),
            "PostgreSQL runs with synchronous_commit off",
            True,
        ),
        (
            postgres(settings={**ON, "data_checksums": "off"}),
            "PostgreSQL runs with data_checksums off",
            True,
        ),
        (
            folder(open_files=("windtee.db",)),
            "Other accounts of this machine can read the school's folder",
            True,
        ),
        (folder(free=499_000_000), "499 MB are free for the school's folder", True),
        (folder(free=4 * GB), "4000 MB are free for the school's folder", False),
        (folder(backed_up=None), "There is no backup", True),
        (
            folder(backed_up=NOW - timedelta(hours=25)),
            "The last backup is 25 hours old",
            True,
        ),
        (
            folder(older=("a.windtee-backup",)),
            "1 backup still holds records that were erased",
            False,
        ),
        (serving(debug=True), "Debugging is on", True),
        (serving(demo=True), "This is the demo: its accounts are printed", True),
        (serving(demo_accounts=6), "6 of the demo's printed accounts can sign in", True),
        (serving(hosts=PUBLIC), "Plain http on school.example", True),
        (
            clocks(newest=NOW + timedelta(minutes=11)),
            "The clock stands 11 minutes before the newest act on file",
            True,
        ),
        (
            clocks(newest=NOW + timedelta(seconds=9)),
            "The clock stands 9 seconds before the newest act on file",
            False,
        ),
        (
            clocks(database=NOW + timedelta(minutes=11)),
            "The database's clock is 11 minutes off this one",
            True,
        ),
        (
            clocks(database=NOW - timedelta(days=2)),
            "The database's clock is 2 days off this one",
            True,
        ),
    ],
)
def test_what_is_not_is_named_alone(facts: Facts, title: str, unsafe: bool) -> None:
    assert told(facts) == [(title, unsafe)]
    (one,) = findings(facts)
    assert one.remedy.endswith(".")
    with speaking(Language("de")):
        assert spoken(one.title) != one.title
        assert spoken(one.remedy) != one.remedy


def test_the_unsafe_stands_first() -> None:
    facts = replace(folder(free=4 * GB), serving=replace(SERVING, debug=True))
    assert [unsafe for _, unsafe in told(facts)] == [True, False]


def test_only_some_of_many_open_files_are_named() -> None:
    (one,) = findings(folder(open_files=("a", "b", "c", "d", "e")))
    assert one.remedy.startswith("a, b, c and 2 more.")


def test_what_was_looked_at_says_how_each_database_runs() -> None:
    assert dict(described(SOUND))["Database"] == "SQLite 3.53.4, journal wal, synchronous full"
    assert "fsync on" in dict(described(postgres()))["Database"]
    assert dict(described(folder(backed_up=None)))["Newest backup"] == "none"


KEY = HouseKey("b1e7 33ff", since=4)


def test_a_key_in_the_folder_that_is_not_the_school_s_is_told() -> None:
    title = "The key in the school's folder is not the one in force"
    assert told(replace(SOUND, key=replace(KEY, held=False))) == [(title, True)]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        (HouseKey(), "none"),
        (KEY, "b1e7 33ff, from entry 4 on"),
        (replace(KEY, earlier=1), "b1e7 33ff, from entry 4 on; 1 key before it"),
        (
            replace(KEY, earlier=3, broken=2),
            "b1e7 33ff, from entry 4 on; 3 keys before it; 2 of them compromised",
        ),
    ],
)
def test_what_was_looked_at_says_which_key_signs(key: HouseKey, words: str) -> None:
    assert dict(described(replace(SOUND, key=key)))["Key of the school"] == words
