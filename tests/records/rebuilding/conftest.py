"""The whole story, told once on each database; a test leaves it as it found it."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from tests.cast import TestSchool, close_school, open_school
from tests.postgres import Cluster
from tests.records.rebuilding.behind import Rows, everything, proven
from tests.story import tell


@dataclass
class Story:
    """A school, its records by what became of them, and all of its rows."""

    school: TestSchool
    records: dict[str, str]
    rows: Rows


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Story]:
    """The story on one of the databases."""
    data = tmp_path_factory.mktemp("story")
    if request.param == "sqlite":
        yield from _tell(open_school(data))
        return
    cluster: Cluster = request.getfixturevalue("postgres_cluster")
    with cluster.fresh_database() as url:
        yield from _tell(open_school(data, url))


def _tell(school: TestSchool) -> Iterator[Story]:
    records = tell(school)
    yield Story(school, records, everything(school))
    close_school(school)


@pytest.fixture
def story(told: Story) -> Story:
    """The story, found sound."""
    assert everything(told.school) == told.rows
    assert proven(told.school).findings == []
    return told
