"""A ledger read ahead by a process of its own: whatever it says, the findings are the same."""

import multiprocessing
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from select import select

import pytest

from gradebook.ledger import keys
from gradebook.ledger.chain import ALTERED, Chain, Finding
from gradebook.ledger.gleaning import Gleaning, Stored, glean, one_by_one
from gradebook.records import ahead
from gradebook.records.ahead import reading_ahead
from tests.cast import TestSchool
from tests.ledger.small_ledger import ANA, PEOPLE, key_of, opened, public
from tests.ledger.test_chain import (
    LAST,
    SCHOOLS_ALONE,
    TWISTS,
    changed,
    erased,
    good,
    stored,
)
from tests.records.keeping.test_drill import unguarded
from tests.records.rekeying.machine import runner
from tests.walks.test_main_job import sign_first_lesson

PATIENCE = 60.0


@pytest.fixture(autouse=True)
def from_the_first_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "WORTH", 1)
    monkeypatch.setattr(ahead, "BATCH", 2)
    monkeypatch.setattr(ahead, "FEW", 1)


def judged(
    rows: Iterable[Stored], gleaning: Gleaning
) -> tuple[list[Finding], int, bytes, list[tuple[int, str]]]:
    """All that is found, and what the chain came to."""
    chain = Chain(public("school"))
    found = [one for _, _, faults in chain.read(rows, gleaning) for one in faults]
    return found, chain.size, chain.root(), list(chain.erasures.unexplained())


def forged(what: str) -> list[Stored]:
    ledger = opened()
    ledger.say("record.sign", "ben", {}, ANA, twist=TWISTS[what][0])
    ledger.sign("L2")
    return stored(ledger)


def presumed(what: str) -> list[Stored]:
    ledger = opened()
    ledger.say(SCHOOLS_ALONE[what][0], "cleo", SCHOOLS_ALONE[what][1])
    ledger.sign("L1")
    return stored(ledger)


def of_a_new_key() -> list[Stored]:
    """Somebody signs right after their key was introduced: it was not known when asked."""
    ledger = opened()
    ledger.say("key.enrol", "school", key_of("eve"))
    ledger.say("record.sign", "eve", {}, ANA)
    return stored(ledger)


LEDGERS: dict[str, Callable[[], list[Stored]]] = {
    "good": good,
    "of a new key": of_a_new_key,
    "erased": erased,
    "erased and gone": lambda: changed(LAST, statement="")(good()),
    "unreadable": lambda: changed(LAST, entry="{}")(good()),
    "other words": lambda: changed(LAST, statement=good()[LAST - 1].statement)(good()),
    "one short": lambda: good()[:-2] + good()[-1:],
    "empty": list,
    **{what: lambda what=what: forged(what) for what in TWISTS},  # type: ignore[misc]
    **{what: lambda what=what: presumed(what) for what in SCHOOLS_ALONE},  # type: ignore[misc]
}


@pytest.mark.parametrize("what", LEDGERS)
def test_the_same_is_found_as_row_by_row(what: str) -> None:
    rows = LEDGERS[what]()
    assert judged(rows, reading_ahead) == judged(rows, one_by_one)


def test_the_helper_has_checked_the_signatures_it_was_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Else all is read here after all, and only the time would tell."""
    monkeypatch.setattr(ahead, "FEW", 0)
    rows = good()
    known = {keys.kid(one): one for one in map(public, PEOPLE)}
    helped = list(reading_ahead(rows, lambda: known))[1:]
    assert helped == [(row, glean(row.entry, row.statement, known)) for row in rows[1:]]
    assert all(gleaned.fits for _, gleaned in helped)


def test_when_the_helper_is_killed_on_the_way_the_rest_is_read_here() -> None:
    rows, killed = forged("with a wrong signature"), list[int]()

    def killing() -> Iterator[Stored]:
        for row in rows:
            if row.seq == LAST:
                helpers = multiprocessing.active_children()
                killed.append(len(helpers))
                for one in helpers:
                    one.kill()
                    one.join()
            yield row

    assert judged(killing(), reading_ahead) == judged(rows, one_by_one)
    assert killed == [1]


def test_the_helper_ends_with_whoever_asks_however_that_ends() -> None:
    """Not even a killed proof leaves a process behind."""
    script = (
        "from multiprocessing import active_children\n"
        "from gradebook.ledger.gleaning import Stored\n"
        "from gradebook.records import ahead\n"
        "ahead.WORTH = 0\n"
        "reading = ahead.reading_ahead([Stored(1, '', '', '', b'')], dict)\n"
        "next(reading)\n"
        "print(active_children()[0].pid, flush=True)\n"
        "input()\n"
    )
    asking = subprocess.Popen(
        [sys.executable, "-c", script],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert asking.stdout is not None
    helper = os.pidfd_open(int(asking.stdout.readline()))
    asking.send_signal(signal.SIGKILL)
    asking.communicate()
    assert select([helper], [], [], PATIENCE)[0] == [helper]
    os.close(helper)


def test_a_school_is_proved_with_a_helper_and_an_altered_word_found(
    school: TestSchool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run = runner(school, monkeypatch)
    sign_first_lesson(school)
    assert run("verify") == 0
    change = """SET statement = replace(statement, '"meets":false', '"meets":true')"""
    unguarded(school, "UPDATE ledger_entry " + change)
    assert run("verify") == ALTERED
    assert "its statement is not the one that was signed" in capsys.readouterr().err
    assert multiprocessing.active_children() == []
