"""What tests of a change of keys may ask for."""

import pytest

from tests.cast import TestSchool
from tests.records.rekeying.machine import Run, runner


@pytest.fixture
def run(school: TestSchool, monkeypatch: pytest.MonkeyPatch) -> Run:
    """`windtee ...` in the school's folder, its key on the disk."""
    return runner(school, monkeypatch)


@pytest.fixture
def either_run(either_school: TestSchool, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The same on both databases."""
    return runner(either_school, monkeypatch)
