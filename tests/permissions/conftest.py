"""One school for all questions of a worker."""

from collections.abc import Iterator

import pytest

from tests.permissions.doors import Doors


@pytest.fixture(scope="session")
def doors(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Doors]:
    """Doors to ask at; whoever changes the school puts it back."""
    opened = Doors(tmp_path_factory.mktemp("doors") / "school")
    yield opened
    opened.close()
