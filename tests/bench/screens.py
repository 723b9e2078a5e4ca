"""Every main screen, cold, on a phone: `python -m tests.bench.screens`.

A real Chromium the size of a phone, its CPU four times slower, 1.6 Mbit/s down and 750 kbit/s
up with 150 ms to the server; each screen in a browser that has nothing kept. The school is the
demo. *Usable* is when the page has been painted and the scripts that work on it have run;
*keeps* is when the card's script, which comes after them, keeps and saves what is typed (what
was typed before included). Bytes are what came over the wire, headers included. The base is
`/alive`, an answer of a few bytes, under the same conditions: the ratio is what a screen costs
beside the least that an answer can. *Longest* is the longest task by the Long Tasks API, which
leaves out what the browser does to draw a frame; *frame* is the longest by the Long Animation
Frames API, from its first task to what is drawn. Whether a first layout belongs to a task or
to a frame only hangs on what comes first, the last script or the page's end. `--slower` takes
another factor than four, which is meant for a quick desktop: DEVELOPERS says which phone each
makes of the machine measured on.
"""

import argparse
import json
import logging
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from flask import Flask
from playwright.sync_api import Browser, BrowserContext, CDPSession

from gradebook.app import create_app
from gradebook.demo import loading
from gradebook.demo_accounts import SECRET
from gradebook.settings import settings_in
from tests.bench.places import Screen, screens
from tests.chromium import running_browser
from tests.counting import asked
from tests.serving import served

PHONE = {"width": 360, "height": 740}
SLOWER = 4
NETWORK = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1.6e6 / 8,
    "uploadThroughput": 750e3 / 8,
}
CARD = "grading card"
KB, SECOND, LONG, QUERIES = 40.0, 1.0, 50.0, 6
"""The goals: kB of the card, seconds until it is usable, ms of a task, queries of a page."""
WATCH = """
window.longTasks = [];
new PerformanceObserver((list) => {
  for (const one of list.getEntries()) window.longTasks.push(one.duration);
}).observe({ type: "longtask", buffered: true });
window.longFrames = [];
new PerformanceObserver((list) => {
  for (const one of list.getEntries()) window.longFrames.push(one.duration);
}).observe({ type: "long-animation-frame", buffered: true });
new MutationObserver((_, watching) => {
  if (!document.querySelector("[data-followed]")) return;
  window.keeps = performance.now();
  watching.disconnect();
}).observe(document, { subtree: true, attributes: true, attributeFilter: ["data-followed"] });
"""
ASK = """() => {
  const opened = performance.getEntriesByType("navigation")[0];
  const [painted] = performance.getEntriesByName("first-contentful-paint");
  return {
    usable: Math.max(painted ? painted.startTime : 0, opened.domContentLoadedEventEnd),
    keeps: window.keeps ?? 0,
    tasks: window.longTasks,
    frames: window.longFrames,
    nodes: document.querySelectorAll("*").length,
  };
}"""


@dataclass(frozen=True, slots=True)
class Look:
    """One look: bytes until usable and in all, files, seconds, ms of long tasks and frames."""

    early: float
    bytes: float
    files: int
    usable: float
    keeps: float
    tasks: tuple[float, ...]
    frames: tuple[float, ...]
    nodes: int
    queries: int


@dataclass(frozen=True, slots=True)
class Seen:
    """A screen: the median of its looks, the longest task and frame, beside the base (s)."""

    name: str
    early_kb: float
    kb: float
    files: int
    usable: float
    keeps: float
    ratio: float
    longest: float
    frame: float
    nodes: int
    queries: int
    load: float


def main(words: Sequence[str] | None = None) -> int:
    """Look at every screen; 0 whatever comes of it."""
    parser = argparse.ArgumentParser("python -m tests.bench.screens", description=__doc__)
    parser.add_argument("--runs", type=int, default=5, help="looks at each screen (5)")
    parser.add_argument("--data", type=Path, help="a folder to keep the demo school in")
    parser.add_argument(
        "--slower", type=float, default=SLOWER, metavar="X", help=f"the CPU's factor ({SLOWER})"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    logging.disable(logging.CRITICAL)
    before = os.getloadavg()
    with TemporaryDirectory() as folder:
        found = list(_look_at_all(chosen.data or Path(folder), chosen.runs, chosen.slower))
    told = _json(found, before) if chosen.json else _table(found, before)
    sys.stdout.writelines(f"{line}\n" for line in told)
    return 0


def _look_at_all(data: Path, runs: int, slower: float) -> Iterator[Seen]:
    settings = settings_in(data, demo=True)
    loading.load(settings)
    app = create_app(settings)
    with served(app) as address, running_browser() as browser:
        place = Place(app, browser, address, slower)
        base = place.seen(Screen("least answer", "", "/alive"), runs, 0)
        yield base
        for screen in screens(app):
            yield place.seen(screen, runs, base.usable)
            sys.stderr.write(f"{screen.name}\n")


@dataclass(frozen=True, slots=True)
class Place:
    """A served school, and a browser whose CPU is so much `slower`."""

    app: Flask
    browser: Browser
    address: str
    slower: float

    def seen(self, screen: Screen, runs: int, base: float) -> Seen:
        """A screen looked at so often, after once for warmth; `base` in seconds, 0 for none."""
        looks = [self.look(screen) for _ in range(1 + runs)][1:]
        usable = median(one.usable for one in looks)
        return Seen(
            name=screen.name,
            early_kb=median(one.early for one in looks) / 1000,
            kb=median(one.bytes for one in looks) / 1000,
            files=looks[0].files,
            usable=usable,
            keeps=median(one.keeps for one in looks),
            ratio=usable / (base or usable),
            longest=max((ms for one in looks for ms in one.tasks), default=0.0),
            frame=max((ms for one in looks for ms in one.frames), default=0.0),
            nodes=looks[0].nodes,
            queries=max(one.queries for one in looks),
            load=os.getloadavg()[0],
        )

    def look(self, screen: Screen) -> Look:
        """One look, by whom the screen is for, with nothing kept."""
        context = self.browser.new_context(
            viewport=PHONE, has_touch=True, is_mobile=True, service_workers="block"
        )
        try:
            if screen.email:
                _sign_in(context, self.address, screen.email)
            page = context.new_page()
            page.add_init_script(WATCH)
            wired = Wire(context.new_cdp_session(page), self.slower)
            address = f"{self.address}{screen.path}"
            page.goto(address, wait_until="networkidle")
            with asked(self.app.extensions["windtee"].database.engine) as sent:
                context.request.get(address)
            return _look(page.evaluate(ASK), wired, len(sent))
        finally:
            context.close()


def _look(told: dict[str, Any], wired: "Wire", queries: int) -> Look:
    return Look(
        early=wired.until(told["usable"] / 1000),
        bytes=wired.until(float("inf")),
        files=len(wired.sizes),
        usable=told["usable"] / 1000,
        keeps=told["keeps"] / 1000,
        tasks=tuple(told["tasks"]),
        frames=tuple(told["frames"]),
        nodes=told["nodes"],
        queries=queries,
    )


class Wire:
    """A page whose machine and network are slowed down; what it receives, and when."""

    def __init__(self, session: CDPSession, slower: float) -> None:
        self.began: list[float] = []
        self.sizes: list[tuple[float, float]] = []
        session.on("Network.requestWillBeSent", lambda one: self.began.append(one["timestamp"]))
        session.on("Network.loadingFinished", self._received)
        session.send("Network.enable")
        session.send("Network.clearBrowserCache")
        session.send("Network.emulateNetworkConditions", NETWORK)
        session.send("Emulation.setCPUThrottlingRate", {"rate": slower})

    def _received(self, one: dict[str, float]) -> None:
        self.sizes.append((one["timestamp"] - self.began[0], one["encodedDataLength"]))

    def until(self, seconds: float) -> float:
        """The bytes received by so many seconds after the page was asked for."""
        return sum(size for at, size in self.sizes if at <= seconds)


def _sign_in(context: BrowserContext, address: str, email: str) -> None:
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill(email)
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Menu").wait_for()
    page.close()


def _goals(found: Sequence[Seen]) -> Iterator[tuple[str, float, bool]]:
    card = next(one for one in found if one.name == CARD)
    yield f"kB until the card is usable; goal {KB:g}", card.early_kb, card.early_kb <= KB
    yield f"kB of the card in all; goal {KB:g}", card.kb, card.kb <= KB
    yield f"s until the card is usable; goal {SECOND:g}", card.usable, card.usable < SECOND
    longest = max(one.longest for one in found)
    yield f"ms of the longest task of any screen; goal {LONG:g}", longest, longest <= LONG
    queries = max(one.queries for one in found)
    yield f"queries of the page that asks most; goal {QUERIES}", queries, queries <= QUERIES


def _json(found: Sequence[Seen], before: tuple[float, float, float]) -> Iterator[str]:
    goals = [{"words": words, "measured": it, "met": met} for words, it, met in _goals(found)]
    load = {"before": before, "after": os.getloadavg()}
    yield json.dumps(
        {"screens": [asdict(one) for one in found], "goals": goals, "load": load}, indent=2
    )


def _table(found: Sequence[Seen], before: tuple[float, float, float]) -> Iterator[str]:
    width = max(len(one.name) for one in found)
    heads = (
        "kB early",
        "kB",
        "files",
        "usable s",
        "keeps s",
        "x base",
        "longest ms",
        "frame ms",
        "nodes",
        "queries",
        "load",
    )
    yield " " * width + "".join(f"{head:>12}" for head in heads)
    for one in found:
        cells = (
            *(
                f"{one.early_kb:.1f}",
                f"{one.kb:.1f}",
                one.files,
                f"{one.usable:.2f}",
                f"{one.keeps:.2f}" if one.keeps else "",
                f"{one.ratio:.1f}",
            ),
            *(
                f"{one.longest:.0f}",
                f"{one.frame:.0f}",
                one.nodes,
                one.queries,
                f"{one.load:.1f}",
            ),
        )
        yield f"{one.name:<{width}}" + "".join(f"{cell:>12}" for cell in cells)
    yield ""
    for words, measured, met in _goals(found):
        yield f"{measured:8.3g} {words}: {'met' if met else 'not met'}"
    loads = (" ".join(f"{one:.2f}" for one in when) for when in (before, os.getloadavg()))
    yield f"{os.cpu_count()} cores, shared with server and browser; load: {' / '.join(loads)}"


if __name__ == "__main__":
    sys.exit(main())
