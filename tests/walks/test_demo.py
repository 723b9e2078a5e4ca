"""The demo school: it loads whole, and every page of every account opens."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask

from gradebook.app import create_app
from gradebook.demo import loading
from gradebook.demo_accounts import DOORS, SECRET
from gradebook.records.database import Database, open_engine
from gradebook.records.store import people, proof
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
    app = create_app(replace(demo[1], second_factor=False))
    (card,) = [one for one in screens(app) if one.name == "grading card"]
    assert_light(signed_in(app, card.email), card.path)
    app.extensions["windtee"].database.engine.dispose()


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
