"""People who all sign at once, against the real server: how many a second, how long each waits.

`python -m tests.bench.load`: as many instructors as asked for, each signing the next draft as
soon as the last one is answered, over HTTP, each with the secret typed anew, against gunicorn
with two workers on SQLite. Clients and server share the machine. The goal is 50 sign-offs a
second with 99 of 100 answered within 500 ms.
"""

import argparse
import json
import os
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from tests.cast import close_school
from tests.faults.clients import Browser
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.processes import running_group

SPARE = 3
"""Drafts made for each sign-off a second and user that the goal asks for."""
GOAL_RATE, GOAL_WAIT = 50.0, 0.5


@dataclass(frozen=True, slots=True)
class Measured:
    """What came of it: sign-offs a second, how long they took (seconds), other answers."""

    users: int
    seconds: float
    signed: int
    refused: int
    rate: float
    median: float
    p99: float
    load: tuple[float, float, float]

    @property
    def met(self) -> bool:
        """Whether the goal is met."""
        return self.rate >= GOAL_RATE and self.p99 <= GOAL_WAIT


def measure(users: int, seconds: float) -> Measured:
    """Let so many people sign for so long."""
    each = max(3, round(SPARE * GOAL_RATE * seconds / users))
    with TemporaryDirectory() as folder:
        made = DrillSchool(Path(folder), None, users)
        drafts = [made.drafts(name, each) for name in made.teachers]
        with running_group(Path(folder), made.school.settings.database) as group:
            browsers = [Browser(group.address, name) for name in made.teachers]
            for browser in browsers:
                browser.sign_in()
            taken, refused, lasted = _together(browsers, drafts, seconds)
        close_school(made.school)
    return Measured(
        users,
        lasted,
        len(taken),
        refused,
        len(taken) / lasted,
        *(float(one) for one in np.percentile(taken, (50, 99))),
        os.getloadavg(),
    )


def _together(
    browsers: Sequence[Browser], drafts: Sequence[Sequence[Draft]], seconds: float
) -> tuple[list[float], int, float]:
    """Seconds of each sign-off, how many were refused, and how long it all lasted."""
    taken, refused = list[float](), list[int]()
    began = time.monotonic()

    def sign(browser: Browser, own: Sequence[Draft]) -> None:
        for draft in own:
            sent = time.monotonic()
            if sent - began >= seconds:
                return
            done = browser.send(draft)
            if done.status == 303 and done.leads_to.endswith(f"/records/{draft.record}"):
                taken.append(time.monotonic() - sent)
            else:
                refused.append(done.status)

    threads = [
        threading.Thread(target=sign, args=pair) for pair in zip(browsers, drafts, strict=True)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return taken, len(refused), time.monotonic() - began


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print; 0 whatever is found."""
    parser = argparse.ArgumentParser("python -m tests.bench.load", description=__doc__)
    parser.add_argument("--users", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    found = measure(chosen.users, chosen.seconds)
    if chosen.json:
        sys.stdout.write(f"{json.dumps({**asdict(found), 'met': found.met})}\n")
        return 0
    sys.stdout.write(
        f"{found.users} people, {found.seconds:.1f} s: {found.signed} sign-offs, "
        f"{found.rate:.1f} a second, {found.refused} refused\n"
        f"median {found.median * 1e3:.0f} ms, p99 {found.p99 * 1e3:.0f} ms; goal "
        f"{GOAL_RATE:.0f} a second, p99 {GOAL_WAIT * 1e3:.0f} ms: "
        f"{'met' if found.met else 'not met'}\n"
        f"load {' '.join(f'{one:.1f}' for one in found.load)}\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
