"""A school on its first day: every page of every role says what is not there and what to do."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cast import ROLES, TestSchool, close_school, open_school
from tests.walks.test_inert import LINK

BODY = re.compile(r"<tbody>(.*?)</tbody>", re.DOTALL)
LISTS = re.compile(r"<(ul|ol|dl)\b[^>]*>\s*</\1>")
PAGE = re.compile(r"<main\b.*?</main>", re.DOTALL)


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestSchool]:
    """People with roles, no course, no student enrolled."""
    school = open_school(tmp_path, files={})
    yield school
    close_school(school)


def reached(school: TestSchool, name: str) -> dict[str, str]:
    """Every page somebody can click to, by address, from the day on."""
    who, found, waiting = school.visitor(name), {}, ["/"]
    while waiting:
        path = waiting.pop().replace("&amp;", "&")
        if path in found or not path.startswith("/") or path.startswith(("/static", "/vendor")):
            continue
        answer = who.client.get(path, follow_redirects=True)
        assert answer.status_code == 200, path
        found[path] = answer.text
        if answer.mimetype == "text/html":
            waiting += LINK.findall(answer.text)
    return found


@pytest.mark.parametrize("name", sorted(ROLES))
def test_no_list_is_silent_on_the_first_day(empty: TestSchool, name: str) -> None:
    silent = {}
    for path, page in reached(empty, name).items():
        shown = PAGE.search(page)
        if shown is None:
            continue
        bodies = [body for body in BODY.findall(shown[0]) if not body.strip()]
        if bodies or LISTS.search(shown[0]):
            silent[path] = (bodies, LISTS.findall(shown[0]))
    assert silent == {}
