"""What is done to a card before its script has come is taken up by the script."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.offline.field import Field


def _types(page: Page) -> None:
    page.get_by_label("Remarks", exact=True).fill("early")


def _taps(page: Page) -> None:
    page.get_by_role("radio", name="Perform").first.check(force=True)


def _chooses(page: Page) -> None:
    page.get_by_label("Next lesson").select_option(index=1)


@pytest.mark.parametrize(
    ("act", "kept"),
    [
        (_types, lambda card: card["remarks"] == "early"),
        (_taps, lambda card: card["entries"][0]["level"] == "perform"),
        (_chooses, lambda card: card["next_lesson"]),
    ],
    ids=["typed", "tapped", "chosen"],
)
def test_it_is_saved(
    field: Field, act: Callable[[Page], None], kept: Callable[[Any], Any]
) -> None:
    phone = field.phone(service_workers="block")
    page, late = phone.page, list[Route]()
    page.route("**/js/card.js", lambda route: late.append(route), times=1)
    with page.expect_request("**/js/card.js"):
        page.get_by_role("button", name="Grade S-01").click()
    act(page)
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        late[0].continue_()
    expect(phone.status).to_contain_text("Saved")
    [row] = field.records()
    assert kept(row.card)
