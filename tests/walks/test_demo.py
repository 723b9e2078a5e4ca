"""The demo school: it loads whole, and every page of every account opens."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import select

from gradebook.app import create_app
from gradebook.cli import main
from gradebook.demo import loading
from gradebook.demo.scenario import read_scenario
from gradebook.demo_accounts import DOORS, SECRET
from gradebook.records.database import Database, open_engine
from gradebook.records.store import copies, people, proof, schoolkeys
from gradebook.records.tables.ledger import CertifiedCopy, LedgerEntry
from gradebook.records.tables.people import Person
from gradebook.settings import FLOOR, Settings
from tests.bench.places import screens
from tests.cast import SEED, Visitor
from tests.views.test_thrift import assert_light

LINK = re.compile(r'href="(/[^"#]*)"')
MOST = 60


def settings_for(data: Path, database: str) -> Settings:
    """The demo's settings on this database."""
    return Settings(
        data=data,
        database=database,
        key="a key for the tests",
        seed=SEED,
        demo=True,
        second_factor=False,
        hash_cost=FLOOR,
        now=lambda: datetime(2026, 11, 25, 12, tzinfo=UTC),
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Flask, Settings]]:
    """The demo school on SQLite, loaded once."""
    data = tmp_path_factory.mktemp("demo")
    settings = settings_for(data, f"sqlite:///{data / 'windtee.db'}")
    assert loading.load(settings)
    app = create_app(settings)
    yield app, settings
    app.extensions["windtee"].database.engine.dispose()


def signed_in(app: Flask, email: str) -> Visitor:
    who = Visitor(app.test_client())
    who.get("/sign-in")
    who.post("/sign-in", email=email, secret=SECRET)
    return who


def test_the_card_with_its_files_takes_at_most_forty_kilobytes(
    demo: tuple[Flask, Settings],
) -> None:
    (card,) = [one for one in screens(demo[0]) if one.name == "grading card"]
    assert_light(signed_in(demo[0], card.email), card.path)


@pytest.mark.parametrize(("role", "email"), DOORS)
def test_one_press_looks_at_the_demo_as_each_role(
    demo: tuple[Flask, Settings], role: str, email: str
) -> None:
    who = Visitor(demo[0].test_client())
    (form,) = (
        part for part in who.get("/sign-in").split("<form") if f"Look as {role}<" in part
    )
    who.post("/sign-in", **dict(re.findall(r'name="(\w+)" value="([^"]*)"', form)))
    assert email.partition("@")[0].capitalize() in who.get("/account")


@pytest.mark.parametrize(("role", "email"), DOORS)
def test_every_page_opens(demo: tuple[Flask, Settings], role: str, email: str) -> None:
    who = signed_in(demo[0], email)
    waiting, seen = ["/"], set()
    while waiting and len(seen) < MOST:
        path = waiting.pop(0)
        kind = re.sub(r"[0-9a-f]{32,}|tasks/[a-z-]+", "*", path)
        if sum(kind == one for _, one in seen) >= 3 or (path, kind) in seen:
            continue
        seen.add((path, kind))
        found = LINK.findall(who.get(path.replace("&amp;", "&")))
        waiting += [one for one in found if not one.startswith("/static")]
    assert len(seen) >= 3, (role, seen)


def test_every_record_of_the_demo_proves(demo: tuple[Flask, Settings]) -> None:
    assert_proves(demo[1].database)


def test_one_student_is_erased_and_one_waits_for_the_second_person(
    demo: tuple[Flask, Settings],
) -> None:
    app, doors = demo[0], dict(DOORS)
    chief, administrator = (
        signed_in(app, doors[role]) for role in ("chief instructor", "administrator")
    )
    retention = chief.get("/retention")
    (by,) = re.findall(r'href="/ledger/(\d+)"', retention)
    assert "Waits for a second person." in retention
    request = re.findall(r'href="(/retention/requests/\w+)"', retention)[0]
    assert "Confirm: erase for good" not in chief.get(request)
    assert "Confirm: erase for good" in administrator.get(request)
    with app.extensions["windtee"].database.read() as session:
        blank = session.scalars(select(LedgerEntry.seq).where(LedgerEntry.statement == ""))
        seq = next(iter(blank))
        erased = [one for one in read_scenario().students if one.erased]
        names = set(session.scalars(select(Person.name)))
    assert f"erased (by entry {by})" in chief.get(f"/ledger/{seq}")
    assert len(erased) == 1
    assert erased[0].name not in names


def test_a_copy_made_now_is_good_by_the_key_from_before_the_change(
    demo: tuple[Flask, Settings], tmp_path: Path
) -> None:
    app, _ = demo
    with app.extensions["windtee"].database.read() as session:
        line = schoolkeys.succession(session)
        row = session.scalars(select(CertifiedCopy).order_by(CertifiedCopy.seq.desc())).first()
        assert row is not None
        file = tmp_path / "hester.windtee-record"
        file.write_bytes(copies.unpack(row.content))
        prints = [line.fingerprint_of(one) for one in line.keys]
    assert len(prints) == 2
    assert [main(["verify", str(file), "--key", one]) for one in prints] == [0, 0]
    ledger = signed_in(app, dict(DOORS)["auditor"]).get("/ledger")
    assert all(one in ledger for one in prints)


def test_the_demo_loads_on_postgresql_too(fresh_postgres: str, tmp_path: Path) -> None:
    assert loading.load(settings_for(tmp_path, fresh_postgres))
    assert_proves(fresh_postgres)


def assert_proves(database: str) -> None:
    """Every entry, row and audit event of the school in this database proves."""
    engine = open_engine(database)
    with Database(engine).read() as session:
        school = people.school(session)
        assert school is not None
        found = proof.prove(session, school.vkey)
    assert found.findings == []
    assert found.rows > 400
    assert found.checkpoints >= 1
    engine.dispose()


def test_loading_twice_changes_nothing(demo: tuple[Flask, Settings]) -> None:
    assert not loading.load(demo[1])
