"""Debian's Chromium, driven by Playwright."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, expect, sync_playwright

from tests import run

UNUSED = (
    # pages of the browser's own address bar, started anew with every window that nobody sees
    "WebUIOmniboxAimPopup",
    "WebUIOmniboxFullPopup",
    "WebUIOmniboxPopup",
    # what Playwright turns off itself, for the last list of a command line counts alone
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "OptimizationHints",
    "PaintHolding",
    "ThirdPartyStoragePartitioning",
)
"""Features that are turned off. The first three took two thirds of the work of a new page."""

FLAGS = (
    "--headless=new",
    "--no-sandbox",  # the tests may run as root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--disable-features={','.join(UNUSED)}",
)

PATIENCE = 30_000
"""Milliseconds for what takes well under one second, on a machine that has other work.

As long as Playwright itself gives an act or a page.
"""


@contextmanager
def running_browser() -> Iterator[Browser]:
    """A browser that lives as long as the block; FileNotFoundError without Chromium."""
    if not Path(run.CHROMIUM).exists():
        raise FileNotFoundError(f"Chromium is missing: {run.apt_line(['chromium'])}")
    expect.set_options(timeout=PATIENCE)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=run.CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()
