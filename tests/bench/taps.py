"""What grading a lesson costs the hand and the head: `python -m tests.bench.taps`.

Twenty tasks, three of them below target with an error each, the rest set together, times, the
signature and the student's acknowledgement, in a real browser with a touch screen. Taps and
keys are counted from the events that reach the page, nothing from the script that drives it.

The time is worked out, not measured: the keystroke-level model of Card, Moran and Newell
(Communications of the ACM 23, 1980), its operators as remembered: K .28 s a key (an average
typist, who does not know the keyboard by heart), P 1.10 s to point, B .10 s to press, M 1.35 s
to think. A tap counts P + B: the model was made for a mouse; thumbs are measured a little
faster, so that is the safe side. One M before each thing decided: each exception, the rest,
each field, each page to go to. No H: the hand does not leave the phone. The answer time of the
server is left out.

The base is the same lesson without anything worked out: a tap for each grade and each error,
and none set together.
"""

import argparse
import json
import logging
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Browser, BrowserContext, Locator, Page

from tests.browser.test_main_job import PHONE, grade_twenty
from tests.cast import SECRET, close_school, open_school
from tests.chromium import running_browser
from tests.serving import served
from tests.small_course import twenty_tasks

K, P, B, M = 0.28, 1.10, 0.10, 1.35
MOST_TAPS = 30
PACE = 120
"""Milliseconds between two keys."""
TASKS, EXCEPTIONS = 20, 3
COUNT = """
for (const kind of ["pointerdown", "keydown"]) {
  addEventListener(kind, (event) => { if (event.isTrusted) counted(kind); }, true);
}
"""


@dataclass(frozen=True, slots=True)
class Effort:
    """What one way through costs: taps, keys, decisions, and the model's seconds."""

    name: str
    taps: int
    keys: int
    decisions: int

    @property
    def seconds(self) -> float:
        """By the keystroke-level model."""
        return self.taps * (P + B) + self.keys * K + self.decisions * M


class Hand:
    """A hand that taps and types; what reaches the pages is counted there."""

    def __init__(self, context: BrowserContext) -> None:
        self.counts = {"pointerdown": 0, "keydown": 0}
        self.decisions = 0
        context.expose_function("counted", self._count)
        context.add_init_script(COUNT)
        self.page: Page = context.new_page()

    def _count(self, kind: str) -> None:
        self.counts[kind] += 1

    def tap(self, target: Locator) -> None:
        """One tap, decided on."""
        self.decisions += 1
        target.tap()

    def write(self, target: Locator, words: str) -> None:
        """A tap into a field, then key after key, no faster than a thumb."""
        self.tap(target)
        target.press_sequentially(words, delay=PACE)
        self.page.wait_for_timeout(PACE * 5)

    def begin(self) -> None:
        """Count from here on."""
        self.counts = dict.fromkeys(self.counts, 0)
        self.decisions = 0

    def effort(self, name: str) -> Effort:
        """What was counted since it began."""
        return Effort(name, self.counts["pointerdown"], self.counts["keydown"], self.decisions)


def main(words: Sequence[str] | None = None) -> int:
    """Grade, sign and acknowledge once, and say what it took."""
    parser = argparse.ArgumentParser("python -m tests.bench.taps", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    logging.disable(logging.CRITICAL)
    with TemporaryDirectory() as folder, running_browser() as browser:
        found = _graded(Path(folder), browser)
    base = _plainly(found[-1])
    told = [{**asdict(one), "seconds": one.seconds} for one in (*found, base)]
    if chosen.json:
        goal = {"taps": MOST_TAPS, "met": found[-1].taps <= MOST_TAPS}
        sys.stdout.write(json.dumps({"efforts": told, "goal": goal}, indent=2) + "\n")
        return 0
    for line in _table([*found, base]):
        sys.stdout.write(f"{line}\n")
    return 0


def _graded(folder: Path, browser: Browser) -> list[Effort]:
    school = open_school(folder, files=twenty_tasks())
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    context.set_default_timeout(15_000)
    try:
        with served(school.app) as address:
            hand = Hand(context)
            _sign_in(hand.page, address)
            hand.begin()
            grade_twenty(hand)  # type: ignore[arg-type] # it taps and writes, as a thumb does
            hand.page.get_by_role("heading", name="3 tasks below target").wait_for()
            graded = hand.effort("graded, up to the review")
            _finish(hand)
            return [graded, hand.effort("graded, signed and acknowledged")]
    finally:
        context.close()
        close_school(school)


def _sign_in(page: Page, address: str) -> None:
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill("ben@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Grade S-00").wait_for()


def _finish(hand: Hand) -> None:
    page = hand.page
    hand.write(page.get_by_label("Your secret"), SECRET)
    hand.tap(page.get_by_role("button", name="Sign this record"))
    hand.tap(page.get_by_role("link", name="Student acknowledges here"))
    hand.tap(page.get_by_role("radio", name="I agree"))
    hand.write(page.get_by_label("Your secret"), SECRET)
    hand.tap(page.get_by_role("button", name="Acknowledge"))
    page.get_by_text("Acknowledged.").wait_for()


def _plainly(found: Effort) -> Effort:
    """The same with a tap for every grade instead of one for the rest."""
    more = TASKS - EXCEPTIONS - 1
    return Effort(
        "the same, every grade by hand (worked out)",
        found.taps + more,
        found.keys,
        found.decisions + more,
    )


def _table(found: Sequence[Effort]) -> list[str]:
    width = max(len(one.name) for one in found)
    *ours, base = found
    heads = ("taps", "keys", "decided", "s", "x base")
    lines = [" " * width + "".join(f"{head:>11}" for head in heads)]
    for one in found:
        ratio = f"{one.seconds / base.seconds:.2f}"
        cells = (one.taps, one.keys, one.decisions, f"{one.seconds:.0f}", ratio)
        lines.append(f"{one.name:<{width}}" + "".join(f"{cell:>11}" for cell in cells))
    taps = ours[-1].taps
    met = "met" if taps <= MOST_TAPS else "not met"
    goal = f"{taps} taps; goal at most {MOST_TAPS}: {met}"
    return [*lines, "", goal, f"K {K}, P {P}, B {B}, M {M} s"]


if __name__ == "__main__":
    sys.exit(main())
