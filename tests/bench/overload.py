"""Sign-offs that begin by themselves, so many a second: `python -m tests.bench.overload`.

Unlike `tests.bench.load`, where nobody signs before the last answer came, these do not wait
for each other: at a rate above what the server can do more and more wait. Told apart: signed,
sent away (429 or 503), without an answer. Once all are answered the same people sign one by
one until five in a row are answered within half a second: the recovery, counted from the last
of the many. What was acknowledged is then held against the database, as after a kill. Clients
and server share the machine.

With `--by phone` the signatures were given before, away from the network, and are delivered:
no secret is typed, so the server has none to try. That is how lessons are signed on the ramp.
"""

import argparse
import json
import logging
import os
import sys
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from queue import SimpleQueue
from tempfile import TemporaryDirectory

import numpy as np

from tests.bench.coming import come
from tests.bench.couriers import Courier
from tests.cast import close_school
from tests.faults import keeping
from tests.faults.clients import NO_ANSWER, Browser
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.history import Attempt, Tally, tally
from tests.faults.processes import running_group

PEOPLE = 50
SOON, IN_A_ROW = 0.5, 5
PATIENCE = 60.0


@dataclass(frozen=True, slots=True)
class Measured:
    """What came of it: counts, seconds of waiting, and what the database says afterwards."""

    rate: float
    seconds: float
    offered: int
    statuses: dict[str, int]
    signed_a_second: float
    median: float
    p99: float
    longest_refusal: float
    recovery: float
    lost: int
    half_written: int
    load: tuple[float, float, float]


class Crowd:
    """People who sign at given moments, whoever has a draft left."""

    def __init__(
        self, made: DrillSchool, address: tuple[str, int], drafts: int, by: str
    ) -> None:
        self.work = SimpleQueue[tuple[Browser, Draft]]()
        self.attempts: list[Attempt] = []
        each = -(-drafts // PEOPLE)
        for name in made.teachers:
            own = made.drafts(name, each)
            by_phone = by == "phone"
            browser = Courier(made, address, name, own) if by_phone else _typist(address, name)
            for draft in own:
                self.work.put((browser, draft))

    def sign(self, sent: float) -> Attempt:
        """One sign-off that was due at `sent`; a draft that was not signed is used again."""
        browser, draft = self.work.get()
        status = None
        with suppress(NO_ANSWER):
            status = browser.send(draft).status
        attempt = Attempt(draft.record, sent, time.monotonic(), status)
        self.attempts.append(attempt)
        if not attempt.acknowledged:
            self.work.put((browser, draft))
        return attempt

    def recover(self) -> float:
        """Until so many in a row are signed soon: the time then; infinity beyond patience."""
        began, row = time.monotonic(), 0
        while row < IN_A_ROW:
            sent = time.monotonic()
            if sent - began > PATIENCE:
                return float("inf")
            done = self.sign(sent)
            row = row + 1 if done.acknowledged and done.answered - sent < SOON else 0
        return time.monotonic()


def _typist(address: tuple[str, int], name: str) -> Browser:
    """Somebody signed in who types the secret at each signature."""
    browser = Browser(address, name)
    browser.sign_in()
    return browser


def measure(rate: float, seconds: float, drafts: int, by: str = "secret") -> Measured:
    """Let so many come for so long, with so many drafts among them."""
    with TemporaryDirectory() as folder:
        made = DrillSchool(Path(folder), None, PEOPLE)
        with running_group(Path(folder), made.school.settings.database) as group:
            crowd = Crowd(made, group.address, drafts, by)
            attempts = come(crowd.sign, rate, seconds)
            recovery = crowd.recover() - max(one.sent for one in attempts)
        with made.school.database.read() as session:
            records = {one.record for one in crowd.attempts}
            held = keeping.kept(session, records)
        found = tally(crowd.attempts, held)
        close_school(made.school)
    return _told(rate, seconds, attempts, recovery, found)


def _told(
    rate: float, seconds: float, attempts: list[Attempt], recovery: float, found: Tally
) -> Measured:
    signed = [one.answered - one.sent for one in attempts if one.acknowledged]
    refused = [one.answered - one.sent for one in attempts if one.status in (429, 503)]
    lasted = max(one.answered for one in attempts) - min(one.sent for one in attempts)
    middle, late = np.percentile(signed, (50, 99)) if signed else (np.nan, np.nan)
    return Measured(
        rate=rate,
        seconds=seconds,
        offered=len(attempts),
        statuses=dict(Counter(str(one.status or "no answer") for one in attempts)),
        signed_a_second=len(signed) / lasted,
        median=float(middle),
        p99=float(late),
        longest_refusal=max(refused, default=0.0),
        recovery=recovery,
        lost=found.lost,
        half_written=found.half,
        load=os.getloadavg(),
    )


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print; 0 whatever is found."""
    parser = argparse.ArgumentParser("python -m tests.bench.overload", description=__doc__)
    parser.add_argument("--rate", type=float, default=250.0, help="sign-offs a second (250)")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--drafts", type=int, default=4000, help="as many as can be signed")
    parser.add_argument("--by", choices=("secret", "phone"), default="secret")
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    logging.disable(logging.INFO)  # phones are let in by this very process
    found = measure(chosen.rate, chosen.seconds, chosen.drafts, chosen.by)
    if chosen.json:
        sys.stdout.write(f"{json.dumps(asdict(found))}\n")
        return 0
    said = ", ".join(f"{number} {status}" for status, number in sorted(found.statuses.items()))
    sys.stdout.write(
        f"{found.rate:g} a second for {found.seconds:g} s: {said}\n"
        f"{found.signed_a_second:.1f} signed a second, median {found.median * 1e3:.0f} ms, "
        f"p99 {found.p99 * 1e3:.0f} ms; longest refusal {found.longest_refusal:.1f} s\n"
        f"answered soon again after {found.recovery:.1f} s; "
        f"{found.lost} lost, {found.half_written} half-written\n"
        f"load {' '.join(f'{one:.1f}' for one in found.load)}\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
