"""How it is served, by which clocks, and by which arithmetic."""

from collections.abc import Iterator
from datetime import timedelta

from gradebook.formats import span
from gradebook.records.soundness.facts import Clocks, Finding, Serving
from syllabus.saying import say, say_n

SKEW = timedelta(minutes=10)
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


def served(serving: Serving) -> Iterator[Finding]:
    """Debugging, printed accounts, and secrets in the clear."""
    if serving.debug:
        yield Finding(say("Debugging is on"), say("Start without FLASK_DEBUG."))
    if serving.demo:
        yield Finding(
            say("This is the demo: its accounts are printed"),
            say("Keep no real records here. Set a school up with windtee setup."),
        )
    elif serving.demo_accounts:
        yield Finding(
            say_n(
                "{n} of the demo's printed accounts can sign in",
                "{n} of the demo's printed accounts can sign in",
                serving.demo_accounts,
            ),
            say("Anyone knows their secret. Under People, take away that they may sign in."),
        )
    abroad = [name for name in serving.hosts if name not in LOOPBACK]
    if abroad and not serving.https:
        yield Finding(
            say("Plain http on {names}", names=", ".join(abroad)),
            say(
                "Whoever shares the network can read secrets and records. Put a proxy with "
                "https in front and set WINDTEE_HTTPS=1 and WINDTEE_PROXIES=1."
            ),
        )


def clocks(clocks: Clocks) -> Iterator[Finding]:
    """Clocks that disagree."""
    if clocks.newest is not None and clocks.newest > clocks.now:
        behind = clocks.newest - clocks.now
        yield Finding(
            say("The clock stands {span} before the newest act on file", span=_span(behind)),
            say(
                "It was set back, or was wrong then. Let the machine take its time from the "
                "network. Order on file does not follow the clock."
            ),
            unsafe=behind > SKEW,
        )
    if clocks.database is not None and abs(clocks.database - clocks.now) > SKEW:
        yield Finding(
            say(
                "The database's clock is {span} off this one",
                span=_span(clocks.database - clocks.now),
            ),
            say("Let both machines take their time from the network."),
        )


def needles(outdated: int) -> Iterator[Finding]:
    """Needles of an earlier arithmetic, `outdated` of them."""
    if outdated:
        yield Finding(
            say("Needles are of an earlier arithmetic than this program's"),
            say(
                "They are worked out anew whenever a page asks, which takes longer. Run "
                "windtee upgrade: it renews them."
            ),
            unsafe=False,
        )


def _span(length: timedelta) -> str:
    return span(int(length.total_seconds()))
