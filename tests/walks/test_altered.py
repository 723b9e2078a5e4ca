"""Somebody who owns the database altered something: the pages that prove it say what."""

import pytest

from gradebook.ledger import tree
from gradebook.records.faults import TornError
from gradebook.records.store import ledger
from tests.cast import TestSchool
from tests.copies.paper_trail import certify
from tests.erasing.gone import agreed, erase, leave_traces
from tests.records.keeping.test_drill import unguarded
from tests.walks.test_main_job import sign_first_lesson

ENTRIES = "UPDATE ledger_entry SET "
LAST = "(SELECT max(seq) FROM ledger_entry WHERE kind = 'record.sign')"
TEXT = "The signed text is not the one that was signed."
RECORD = {
    "its text": (
        f"{ENTRIES}statement = replace(statement, 'KM-H1', 'KM-H2')",
        TEXT,
    ),
    "what the record names": ("UPDATE lesson_record SET digest = '0'", TEXT),
    "its rows": (
        "UPDATE lesson_record SET remarks = 'Fine.'",
        "The record differs from the text that was signed.",
    ),
    "its entry": (
        f"{ENTRIES}entry = '[]' WHERE seq = {LAST}",
        "Its entry in the ledger cannot be read.",
    ),
    "its statement": (
        f"{ENTRIES}statement = 'x' WHERE seq = {LAST}",
        "Its entry in the ledger cannot be read.",
    ),
    "who signed it": (
        "UPDATE signing_key SET public = substr(public, 3) || substr(public, 1, 2)",
        "The signature is not right.",
    ),
    "its way to the root": (
        f"{ENTRIES}nodes = zeroblob(32) WHERE seq = {LAST} - 1",
        "Its place in the ledger is not the one it was signed into.",
    ),
    "that it was entered": (
        "UPDATE lesson_record SET sequence = 999",
        "Its entry in the ledger is missing.",
    ),
}


@pytest.mark.parametrize("what", RECORD)
def test_a_record_says_what_was_altered(school: TestSchool, what: str) -> None:
    record = sign_first_lesson(school)
    gus = school.visitor("gus")
    assert "Unaltered since it was signed." in gus.get(f"/records/{record}")
    spoil, words = RECORD[what]
    unguarded(school, spoil)
    page = gus.get(f"/records/{record}")
    assert f'<span class="verdict verdict-missing">{words}</span>' in page
    assert "Unaltered since it was signed." not in page


@pytest.mark.parametrize("what", RECORD)
def test_no_copy_is_certified_of_an_altered_record(school: TestSchool, what: str) -> None:
    sign_first_lesson(school)
    certify(school)
    spoil, words = RECORD[what]
    unguarded(school, spoil)
    with pytest.raises(TornError, match=f"{words} Nothing is certified"):
        certify(school)


ENTRY = {
    one: RECORD[one]
    for one in (
        "its text",
        "its entry",
        "its statement",
        "who signed it",
        "its way to the root",
    )
}


@pytest.mark.parametrize("what", ENTRY)
def test_an_entry_says_what_was_altered(school: TestSchool, what: str) -> None:
    sign_first_lesson(school)
    gus = school.visitor("gus")
    with school.database.read() as session:
        seq = session.connection().exec_driver_sql(f"SELECT {LAST}").scalar_one()
    spoil, words = ENTRY[what]
    unguarded(school, spoil)
    page = gus.get(f"/ledger/{seq}")
    assert words in page
    assert "Signature, text and place in the ledger are right." not in page
    assert f'href="/ledger/{seq}"' in gus.get("/ledger")


def test_an_erased_entry_is_right_until_its_place_is_altered(school: TestSchool) -> None:
    leave_traces(school)
    erase(school, agreed(school))
    gus = school.visitor("gus")
    with school.database.read() as session:
        query = "SELECT max(seq) FROM ledger_entry WHERE kind = 'erased'"
        seq = session.connection().exec_driver_sql(query).scalar_one()
    assert "not the one it was signed into" not in gus.get(f"/ledger/{seq}")
    unguarded(school, f"{ENTRIES}nodes = zeroblob(32) WHERE seq = {seq} - 1")
    assert "not the one it was signed into" in gus.get(f"/ledger/{seq}")
    unguarded(school, f"{ENTRIES}digest = '0' WHERE seq = {seq}")
    assert "The signed text is gone, and no entry erased it." in gus.get(f"/ledger/{seq}")
    unguarded(school, f"{ENTRIES}entry = '[]' WHERE seq = {seq}")
    assert "Its entry in the ledger cannot be read." in gus.get(f"/ledger/{seq}")


def test_a_ledger_with_a_gap_is_still_read_and_says_so(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    gus = school.visitor("gus")
    with school.database.read() as session:
        last = session.connection().exec_driver_sql(f"SELECT {LAST}").scalar_one()
        size = ledger.size(session)
        gone = tree.wanted_rows(size)[0][0]
    assert gone < last
    unguarded(school, f"DELETE FROM ledger_entry WHERE seq = {gone}")  # noqa: S608
    assert "cannot be worked out: entries are missing" in gus.get("/ledger")
    gap = "Its place in the ledger cannot be shown: other entries are missing."
    assert gap in gus.get(f"/records/{record}")
    page = gus.get(f"/ledger/{last}")
    assert gap in page
    assert "which checkpoints sign" not in page


def test_what_the_school_itself_signed_is_right_too(school: TestSchool) -> None:
    page = school.visitor("gus").get("/ledger/1")
    assert "Signature, text and place in the ledger are right." in page
