"""A school's machine, on which somebody changes its key."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select

from gradebook.cli import main
from gradebook.ledger import keys, notes
from gradebook.records.store import people
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.settings import SCHOOL_KEY
from tests.cast import SEED, TestSchool

Run = Callable[..., int]


def runner(school: TestSchool, monkeypatch: pytest.MonkeyPatch) -> Run:
    """`windtee ...` in the school's folder, its key on the disk."""
    data = school.settings.data
    (data / SCHOOL_KEY).write_text(SEED.hex())
    monkeypatch.setenv("WINDTEE_DATABASE", school.settings.database)
    return lambda act, *words: main([*act.split(), "--data", str(data), *map(str, words)])


def cut_off(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rotation that is cut off before the new key's file is in force."""

    def cut(_: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("gradebook.cli.keys.put_in_force", cut)
        with pytest.raises(KeyboardInterrupt):
            run("key rotate")


def vkey(school: TestSchool) -> str:
    """The line of the key in force."""
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        return row.vkey


def kid(school: TestSchool) -> str:
    """The name of the key in force."""
    return keys.kid(notes.read_verifier_key(vkey(school))[2])


def size(school: TestSchool) -> int:
    """How many entries the ledger has."""
    with school.database.read() as session:
        return max(session.scalars(select(LedgerEntry.seq)))


def held(school: TestSchool) -> bytes:
    """The seed of the key on the disk."""
    return bytes.fromhex((school.settings.data / SCHOOL_KEY).read_text())


def use_new_key(school: TestSchool) -> None:
    """Let the cast's acts be witnessed by the key on the disk."""
    school.settings = replace(school.settings, seed=held(school))
