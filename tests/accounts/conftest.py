"""Schools as they really are: nobody but a student goes without a second factor."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cast import TestSchool, close_school, open_school


@pytest.fixture
def strict_school(tmp_path: Path) -> Iterator[TestSchool]:
    """A school on SQLite that asks for second factors."""
    opened = open_school(tmp_path, second_factor=True)
    yield opened
    close_school(opened)


@pytest.fixture(params=["sqlite", "postgres"])
def either_strict_school(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[TestSchool]:
    """The same on SQLite and on PostgreSQL."""
    postgres = request.param == "postgres"
    url = request.getfixturevalue("fresh_postgres") if postgres else None
    opened = open_school(tmp_path, url, second_factor=True)
    yield opened
    close_school(opened)
