"""Pages that are asked for by themselves, so many a second: `python -m tests.bench.pages`.

The main screens of the demo school in turn, each by whom it is for, over HTTP against gunicorn
with two workers on SQLite, whether or not the pages before are there yet. Clients and server
share the machine. The goal is 100 a second of which 99 of 100 are there within 300 ms. The base
is `/alive`, an answer of a few bytes, asked for at the same rate.
"""

import argparse
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from gradebook.app import create_app
from gradebook.demo import loading
from gradebook.demo_accounts import SECRET
from gradebook.settings import settings_in
from tests.bench.coming import come
from tests.bench.places import Screen, screens
from tests.faults.clients import NO_ANSWER, Browser
from tests.faults.processes import running_group

GOAL_RATE, GOAL_WAIT = 100.0, 0.3
BASE = "/alive"
Waited = tuple[str, float]
"""The status of an answer, or why there is none, and the seconds since it was due."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What came of it: how long pages took (seconds), beside the base, and other answers."""

    rate: float
    seconds: float
    statuses: dict[str, int]
    median: float
    p99: float
    base_median: float
    base_p99: float
    load: tuple[float, float, float]

    @property
    def met(self) -> bool:
        """Whether the goal is met."""
        right = set(self.statuses) == {"200"}
        return right and self.rate >= GOAL_RATE and self.p99 <= GOAL_WAIT


def measure(data: Path, rate: float, seconds: float) -> Measured:
    """Let pages be asked for at a rate for so long, and the base before them."""
    settings = settings_in(data, demo=True)
    loading.load(settings)
    places = list(screens(create_app(settings)))
    with running_group(data, settings.database) as group:
        asked = cycle(list(_asked(places, group.address)))
        least = Browser(group.address, "")
        base = come(lambda due: _waited(least, BASE, due), rate, min(seconds, 5.0))
        for browser, path in (next(asked) for _ in range(4 * len(places))):
            browser.ask("GET", path)  # both workers have seen every page
        came = come(lambda due: _waited(*next(asked), due), rate, seconds)
    return Measured(
        rate,
        seconds,
        dict(Counter(status for status, _ in came)),
        *_quantiles(came),
        *_quantiles(base),
        os.getloadavg(),
    )


def _asked(places: Sequence[Screen], address: tuple[str, int]) -> Iterator[tuple[Browser, str]]:
    browsers: dict[str, Browser] = {}
    for place in places:
        if place.email not in browsers:
            browsers[place.email] = Browser(address, place.email)
            browsers[place.email].sign_in(place.email, SECRET)
        yield browsers[place.email], place.path


def _waited(browser: Browser, path: str, due: float) -> Waited:
    status = "no answer"
    with suppress(NO_ANSWER):
        status = str(browser.ask("GET", path).status)
    return status, time.monotonic() - due


def _quantiles(came: Sequence[Waited]) -> Iterator[float]:
    return map(float, np.percentile([waited for _, waited in came], (50, 99)))


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print; 0 whatever is found."""
    parser = argparse.ArgumentParser("python -m tests.bench.pages", description=__doc__)
    parser.add_argument("--rate", type=float, default=GOAL_RATE, help="pages a second (100)")
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--data", type=Path, help="a folder to keep the demo school in")
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    with TemporaryDirectory() as folder:
        found = measure(chosen.data or Path(folder), chosen.rate, chosen.seconds)
    tell: Callable[[Measured], str] = _json if chosen.json else _lines
    sys.stdout.write(tell(found))
    return 0


def _json(found: Measured) -> str:
    return f"{json.dumps({**asdict(found), 'met': found.met})}\n"


def _lines(found: Measured) -> str:
    said = ", ".join(f"{number} {status}" for status, number in sorted(found.statuses.items()))
    times = (found.median, found.p99, found.base_median, found.base_p99)
    middle, late, least, least_late = (f"{one * 1e3:.0f} ms" for one in times)
    return (
        f"{found.rate:g} pages a second for {found.seconds:g} s: {said}\n"
        f"median {middle}, p99 {late}; {BASE} {least}, {least_late}: "
        f"x {found.median / found.base_median:.1f}, x {found.p99 / found.base_p99:.1f}\n"
        f"goal {GOAL_RATE:g} a second, p99 {GOAL_WAIT * 1e3:.0f} ms: "
        f"{'met' if found.met else 'not met'}\n"
        f"load {' '.join(f'{one:.1f}' for one in found.load)}\n"
    )


if __name__ == "__main__":
    sys.exit(main())
