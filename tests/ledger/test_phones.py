"""A phone's key beside its owner's: what each may sign, judged in a file and in a school."""

import pytest

from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.chain import Chain
from gradebook.ledger.gleaning import Stored
from gradebook.ledger.notes import fingerprint, verifier_key
from tests.ledger.phone_ledgers import PHONES, phone_file
from tests.ledger.small_ledger import ORIGIN, public

TRUSTED = fingerprint(verifier_key(ORIGIN, public("school")))


@pytest.mark.parametrize("name", PHONES)
def test_a_file_is_judged_by_whose_key_signed_as_what(name: str) -> None:
    told = verify_bundle(phone_file(name), TRUSTED)
    assert told.code == PHONES[name][0], told.line


@pytest.mark.parametrize("name", PHONES)
def test_a_whole_ledger_is_judged_alike(name: str) -> None:
    code, made = PHONES[name]
    ledger = made()[0]
    rows = [
        Stored(
            entry.seq, entry.text().decode(), text.decode(), entry.leaf().hex(), b"".join(row)
        )
        for entry, text, row in zip(ledger.entries, ledger.statements, ledger.rows, strict=True)
    ]
    chain = Chain(public("school"))
    found = [one.code for _, _, faults in chain.read(rows) for one in faults]
    assert found == ([code] if code else [])
    assert chain.size == len(rows)
