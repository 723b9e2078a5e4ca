"""What most tests of the browser's rules ask for."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.pocket.browser import judging_page


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """An empty page that may load the scripts."""
    with judging_page(browser) as opened:
        yield opened
