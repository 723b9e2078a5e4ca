"""Each check is failed by the fault it is there for, planted in our scripts or the server."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from gradebook.records.commands import delivering, opening
from gradebook.records.commands.delivering import Delivery, Letter
from tests.offline import checks
from tests.offline.field import Field, assert_met, opened_field

Planted = tuple[str, str, str]


SCRIPTS: dict[str, tuple[Planted, Callable[[Field], None], str]] = {
    "no shell": (
        ("phone/worker.js", "(await kept(SHELL))", "null"),
        checks.draft_survives,
        "ERR_FAILED",
    ),
    "drafts are not kept": (
        ("phone/drafts.js", 'rows.put("drafts", { ...before', "void ({ ...before"),
        checks.draft_survives,
        "kept: ''",
    ),
    "another key at each try": (
        (
            "phone/outbox.js",
            '"Idempotency-Key": letter.key',
            '"Idempotency-Key": crypto.randomUUID()',
        ),
        checks.lost_answer,
        "could not take it",
    ),
    "whoever is signed in sends": (
        (
            "phone/outbox.js",
            "const { id } = access.person;",
            "const id = (await letters.all())[0]?.person ?? access.person.id;",
        ),
        checks.waits_for_its_author,
        "sent as somebody else",
    ),
    "the age is left out": (
        ("phone/outbox.js", "String(Math.max(0, Date.now() - letter.made_at))", '"259200000"'),
        checks.clock_ahead,
        "estimate off",
    ),
}


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_fault_in_a_script_is_met(browser: Browser, tmp_path: Path, name: str) -> None:
    assert_met(browser, tmp_path, *SCRIPTS[name])


def no_idempotency(patched: pytest.MonkeyPatch) -> None:
    """The server takes whatever comes, and remembers no letter."""
    patched.setattr(delivering, "taken", lambda *_: None)

    def keep(act: object, letter: Letter, status: int, answer: str) -> Delivery:
        del act, letter
        return Delivery(status=status, answer=answer)

    patched.setattr(delivering, "keep", keep)


def no_version(patched: pytest.MonkeyPatch) -> None:
    """The server takes every version for the newest."""
    put = opening._put

    def late(act: object, record: object, version: int, card: object) -> None:
        del version
        put(act, record, record.version, card)

    patched.setattr(opening, "_put", late)


SERVERS = {
    "no idempotency": (no_idempotency, checks.lost_answer, "could not take it"),
    "no version": (no_version, checks.changed_elsewhere, "overwritten without a word"),
}


@pytest.mark.parametrize("name", SERVERS)
def test_a_fault_in_the_server_is_met(browser: Browser, tmp_path: Path, name: str) -> None:
    plant, check, words = SERVERS[name]
    with (
        pytest.MonkeyPatch.context() as patched,
        opened_field(tmp_path, browser) as field,
    ):
        plant(patched)
        with pytest.raises(AssertionError, match=words):
            check(field)
