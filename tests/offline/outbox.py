"""Random lives of the outbox: our own scripts in Chromium over a stub of school and network."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from flask import Flask, Response
from playwright.sync_api import Browser, Page

from gradebook.paths import bundled
from tests.serving import served

MODEL = Path(__file__).with_name("model")
PAGE = "<!DOCTYPE html><title>.</title><body><script type='module' src='/{}.js'></script>"
AT_ONCE = 100


@contextmanager
def model_page(browser: Browser, static: Path | None = None) -> Iterator[Page]:
    """A page on which `play(first, many)` plays sequences; `static`: other scripts."""
    app = Flask("model", static_folder=str(static or bundled("static")))
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = 3600
    for path, name in (("/", "model"), ("/life", "life")):
        text = PAGE.format(name)
        app.add_url_rule(path, name, lambda text=text: text)
        script = (MODEL / f"{name}.js").read_text()
        app.add_url_rule(
            f"/{name}.js",
            f"{name}.js",
            lambda script=script: Response(script, mimetype="text/javascript"),
        )
    with served(app) as address:
        context = browser.new_context()
        page = context.new_page()
        page.goto(address)
        yield page
        context.close()


def play(page: Page, first: int, many: int) -> list[str]:
    """The faults of so many sequences, each with its seed."""
    found: list[str] = []
    for begun in range(first, first + many, AT_ONCE):
        left = min(AT_ONCE, first + many - begun)
        found += page.evaluate("([first, many]) => play(first, many)", [begun, left])
    return found
