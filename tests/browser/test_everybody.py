"""WCAG 2.2 AA on every page that a role can reach: each page is opened once and looked at.

On the same round: nothing that the policy refuses, and no code or style within a tag.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser.rounds import Stop, looked_at, stops, visitor
from tests.browser.test_policy import INLINE, WATCH
from tests.permissions.cells import ROLES
from tests.permissions.doors import Doors
from tests.serving import served


@pytest.fixture(scope="module")
def round_of(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Doors, str, list[Stop]]]:
    """A served school with papers of every kind, and every page there is to look at."""
    doors = Doors(tmp_path_factory.mktemp("round") / "school")
    with served(doors.app) as address:
        yield doors, address, list(stops(doors))
    doors.close()


@pytest.mark.parametrize("role", ROLES)
def test_every_page_of_a_role_can_be_used_by_everybody(
    browser: Browser, round_of: tuple[Doors, str, list[Stop]], role: str
) -> None:
    doors, address, pages = round_of
    context = visitor(browser, doors, address, role)
    context.add_init_script(WATCH)
    page = context.new_page()
    wrong = []
    for stop in (one for one in pages if one.role == role):
        answer = page.goto(address + stop.path)
        inline = [f"inline: {one}" for one in INLINE.findall(answer.text())]
        refused = [f"refused: {one}" for one in page.evaluate("refused")]
        wrong += [f"{stop.name}: {one}" for one in [*inline, *refused, *looked_at(page)]]
    context.close()
    assert not wrong, "\n".join(wrong)
