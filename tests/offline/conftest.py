"""Ben's phone, set up, at a school on either database; a served school for real browsers."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.cast import TestSchool
from tests.offline.field import Field, opened_field
from tests.phone_desk import Phone


@pytest.fixture
def field(tmp_path: Path, browser: Browser) -> Iterator[Field]:
    """A served school."""
    with opened_field(tmp_path, browser) as found:
        yield found


@pytest.fixture
def phone(school: TestSchool) -> Phone:
    """Ben's phone."""
    return _set_up(school)


@pytest.fixture
def either_phone(either_school: TestSchool) -> Phone:
    """The same on both databases."""
    return _set_up(either_school)


def _set_up(school: TestSchool) -> Phone:
    found = Phone(school)
    found.enrol()
    return found
