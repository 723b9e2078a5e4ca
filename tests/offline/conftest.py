"""Ben's phone, set up, at a school on either database."""

import pytest

from tests.cast import TestSchool
from tests.phone_desk import Phone


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
