"""What tests may ask for. A missing tool fails the test that needs it; nothing is skipped."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser

from tests.cast import TestSchool, close_school, open_school
from tests.chromium import running_browser
from tests.postgres import Cluster, running_cluster
from tests.remembering import remember

settings.register_profile(
    "gate", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("gate")
"""What is drawn is the same at each run, and how long it takes is not judged: a gate closes for
a change, not by chance.

`--hypothesis-profile=default` draws anew.
"""
remember()


@pytest.fixture(scope="session")
def postgres_cluster() -> Iterator[Cluster]:
    """A PostgreSQL of this worker's own, started when the first test asks for it."""
    with running_cluster() as cluster:
        yield cluster


@pytest.fixture(scope="session")
def postgres_url(postgres_cluster: Cluster) -> str:
    """SQLAlchemy's address of a database that all tests of this worker share."""
    return postgres_cluster.url("postgres")


@pytest.fixture
def fresh_postgres(postgres_cluster: Cluster) -> Iterator[str]:
    """SQLAlchemy's address of an empty database, this test's own."""
    with postgres_cluster.fresh_database() as url:
        yield url


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One Chromium a worker; a test opens its own context in it."""
    with running_browser() as chromium:
        yield chromium


@pytest.fixture(autouse=True)
def no_page_outlives_its_test(request: pytest.FixtureRequest) -> Iterator[None]:
    """Or it would go on asking, at a port that by then may be somebody else's."""
    if "browser" not in request.fixturenames:
        yield
        return
    chromium: Browser = request.getfixturevalue("browser")
    before = list(chromium.contexts)
    yield
    for context in chromium.contexts:
        if context not in before:
            context.close()


@pytest.fixture
def school(tmp_path: Path) -> Iterator[TestSchool]:
    """A school on SQLite, this test's own."""
    opened = open_school(tmp_path)
    yield opened
    close_school(opened)


@pytest.fixture(params=["sqlite", "postgres"])
def either_school(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TestSchool]:
    """The same school on SQLite and on PostgreSQL: the test runs on both."""
    postgres = request.param == "postgres"
    url = request.getfixturevalue("fresh_postgres") if postgres else None
    opened = open_school(tmp_path, url)
    yield opened
    close_school(opened)
