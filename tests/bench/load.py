"""People who all sign at once, against the real server: how many a second, how long each waits.

`python -m tests.bench.load`: as many instructors as asked for, each signing the next draft as
soon as the last one is answered, over HTTP, each with the secret typed anew, against gunicorn
with two workers on SQLite. Clients and server share the machine. The goal is 50 sign-offs a
second with 99 of 100 answered within 500 ms; so many people who never think meet that wait
only at 100 a second. With `--rate 50` sign-offs begin by themselves, so many a second at
random moments (Poisson), and a wait is counted from its moment, also when nobody was free to
begin it. `--rate 250 --seconds 60` is five times too much: then most should be sent away with
429 or 503 and a word when to come again, nobody who was told 'signed' may be missing, and ten
seconds later one signature has to go through as if nothing had been.

The secrets' hash is the cheapest that is allowed (argon2id, t=2, 19 MiB, 18 ms); the default
(t=3, 64 MiB, 138 ms) allows 14 signatures a second on two cores, whatever else is done.
"""

import argparse
import json
import os
import sys
import threading
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from random import Random
from tempfile import TemporaryDirectory

import numpy as np

from tests.cast import SECRET, close_school
from tests.faults.clients import NO_ANSWER, Browser
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.keeping import kept
from tests.faults.processes import running_group

SPARE = 3
"""Drafts made for each sign-off a second and user that the goal asks for."""
GOAL_RATE, GOAL_WAIT = 50.0, 0.5
AT_ONCE = 400
"""How many requests may be under way when they begin by themselves."""
RECOVERED, ROOM = 1.0, 10.0
"""A wait (seconds) as if nothing had been, and how long until there is one again."""
SHED = frozenset({429, 503})


@dataclass(slots=True)
class Seen:
    """Seconds of each sign-off, what else was answered and how often, which records signed."""

    waits: list[float] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)
    signed: list[str] = field(default_factory=list)

    def sign(self, browser: Browser, draft: Draft, since: float) -> int:
        """Sign one draft; the status, 0 for no answer."""
        fields = {"version": str(draft.version), "secret": SECRET}
        try:
            done = browser.ask("POST", f"/lessons/{draft.record}/sign", **fields)
        except NO_ANSWER as fault:
            self.others[type(fault).__name__] += 1
            return 0
        if done.status == 303 and done.leads_to.endswith(f"/records/{draft.record}"):
            self.waits.append(time.monotonic() - since)
            self.signed.append(draft.record)
        else:
            hint = "" if done.status not in SHED or done.retry_after else " without Retry-After"
            self.others[f"{done.status}{hint}"] += 1
        return done.status


@dataclass(frozen=True, slots=True)
class Measured:
    """What came of it: sign-offs a second, how long they took (seconds), other answers.

    `lost` counts records told to be signed that are not whole in the database; `recovered` is
    how many seconds after the last request one signature was as quick as ever.
    """

    users: int
    asked: float
    seconds: float
    signed: int
    others: dict[str, int]
    rate: float
    median: float
    p99: float
    lost: int
    recovered: float
    load: tuple[float, float, float]

    @property
    def met(self) -> bool:
        """Whether the goal is met: quick, or, when too much was asked, sent away in order."""
        told = {word for word in self.others if word not in {"429", "503"}}
        if self.asked > GOAL_RATE:
            return not told and self.lost == 0 and self.recovered <= ROOM
        return self.rate >= 0.9 * GOAL_RATE and self.p99 <= GOAL_WAIT and not self.others


def measure(users: int, seconds: float, rate: float = 0.0) -> Measured:
    """Let so many people sign for so long; with a rate, so many a second by themselves."""
    each = max(3, round(SPARE * GOAL_RATE * seconds / users))
    with TemporaryDirectory() as folder:
        made = DrillSchool(Path(folder), None, users)
        drafts = [list(made.drafts(name, each)) for name in made.teachers]
        spare = [one.pop() for one in drafts[:5]]
        with running_group(Path(folder), made.school.settings.database) as group:
            browsers = [Browser(group.address, name) for name in made.teachers]
            for browser in browsers:
                browser.sign_in()
            seen, began = Seen(), time.monotonic()
            if rate:
                _by_themselves(browsers, drafts, seen, rate, seconds)
            else:
                _together(browsers, drafts, seen, seconds)
            lasted = time.monotonic() - began
            recovered = _recovery(browsers, spare)
        with made.school.database.read() as session:
            there = kept(session, seen.signed)
        lost = sum(not (one.places and all(one.parts.values())) for one in there.values())
        close_school(made.school)
    median, p99 = (float(one) for one in np.percentile(seen.waits or [np.inf], (50, 99)))
    return Measured(
        *(users, rate, lasted, len(seen.waits), dict(seen.others), len(seen.waits) / lasted),
        *(median, p99, lost, recovered, os.getloadavg()),
    )


def _together(
    browsers: Sequence[Browser], drafts: Sequence[Sequence[Draft]], seen: Seen, seconds: float
) -> None:
    """Everybody signs one draft after another, without a pause."""
    began = time.monotonic()

    def work(browser: Browser, own: Sequence[Draft]) -> None:
        for draft in own:
            sent = time.monotonic()
            if sent - began >= seconds:
                return
            seen.sign(browser, draft, sent)

    threads = [
        threading.Thread(target=work, args=pair) for pair in zip(browsers, drafts, strict=True)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()


def _by_themselves(
    browsers: Sequence[Browser],
    drafts: Sequence[Sequence[Draft]],
    seen: Seen,
    rate: float,
    seconds: float,
) -> None:
    """Sign-offs begin at random moments, whether the ones before have been answered or not."""
    waiting: SimpleQueue[tuple[Browser, Draft]] = SimpleQueue()
    for turn in zip(*drafts, strict=False):
        for pair in zip(browsers, turn, strict=True):
            waiting.put(pair)

    def work(since: float) -> None:
        try:
            browser, draft = waiting.get_nowait()
        except Empty:
            seen.others["no draft left"] += 1
            return
        if seen.sign(browser, draft, since) in SHED:
            waiting.put((browser, draft))

    chance, at = Random(20261129), time.monotonic()  # noqa: S311 - moments of arrival
    end = at + seconds
    with ThreadPoolExecutor(AT_ONCE) as pool:
        while (at := at + chance.expovariate(rate)) < end:
            time.sleep(max(0.0, at - time.monotonic()))
            pool.submit(work, at)


def _recovery(browsers: Sequence[Browser], spare: Sequence[Draft]) -> float:
    """Seconds until a signature takes no longer than ever; infinite when none of five does."""
    began = time.monotonic()
    for browser, draft in zip(browsers, spare, strict=False):
        sent, alone = time.monotonic(), Seen()
        alone.sign(browser, draft, sent)
        if alone.waits and alone.waits[0] <= RECOVERED:
            return time.monotonic() - began
        time.sleep(1)
    return float("inf")


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print; 0 whatever is found."""
    parser = argparse.ArgumentParser("python -m tests.bench.load", description=__doc__)
    parser.add_argument("--users", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--rate", type=float, default=0.0, help="sign-offs a second, unasked")
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    found = measure(chosen.users, chosen.seconds, chosen.rate)
    if chosen.json:
        sys.stdout.write(f"{json.dumps({**asdict(found), 'met': found.met})}\n")
        return 0
    others = ", ".join(f"{number} x {word}" for word, number in found.others.items())
    sys.stdout.write(
        f"{found.users} people, {found.seconds:.1f} s: {found.signed} sign-offs, "
        f"{found.rate:.1f} a second; other answers: {others or 'none'}\n"
        f"median {found.median * 1e3:.0f} ms, p99 {found.p99 * 1e3:.0f} ms; {found.lost} lost; "
        f"as quick as ever after {found.recovered:.1f} s; "
        f"goal {'met' if found.met else 'not met'}\n"
        f"load {' '.join(f'{one:.1f}' for one in found.load)}\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
