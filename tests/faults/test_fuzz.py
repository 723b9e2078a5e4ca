"""Whatever bytes come in, readers answer in their own words: none of them falls over."""

import json
from collections.abc import Callable
from io import BytesIO
from uuid import UUID

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from werkzeug.datastructures import Headers

from gradebook.exchange import table, unpacking
from gradebook.exchange.lines import UnreadableError
from gradebook.ledger import notes
from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.canonical import MalformedError, parse
from gradebook.ledger.statements import read_entry, read_statement
from gradebook.records.faults import InvalidError
from gradebook.views.forms.letter import read_letter
from tests.ledger.golden import NOTE, NOTE_KEY
from tests.ledger.small_ledger import GOOD, good_ledger
from tests.story import FLOWN

LAYOUTS = (table.Layout("people", ("name", "email"), ("born",)),)
CSV = b'name,email,born\r\nAna,ana@school.example,2001-02-03\r\n\'=x,"a\nb",\r\n'
LIGHT = settings(max_examples=200, deadline=None, derandomize=True, database=None)


def _workbook() -> bytes:
    book = Workbook()
    book.active.append(["name", "email", "born"])
    book.active.append(["Ana", "ana@school.example", "2001-02-03"])
    out = BytesIO()
    book.save(out)
    return out.getvalue()


XLSX = _workbook()
ENTRY = good_ledger().entries[3].text()


LETTER_HEADERS = Headers(
    {"Idempotency-Key": str(UUID(int=1)), "If-Match": '"0"', "X-Age-Ms": "0"}
)
LETTER = json.dumps(
    {
        "enrolment": "b" * 32,
        "lesson": "s-01",
        "card": FLOWN.as_json(),
        "client_time": "2026-05-20T09:00:00Z",
        "signed": {"text": "{}", "sig": "ab" * 64, "kid": "cd" * 16},
    }
).encode()


def mutated(valid: bytes) -> st.SearchStrategy[bytes]:
    """Anything at all, and a valid file with a piece replaced, doubled or cut out."""
    places = st.integers(0, len(valid))
    pieces = st.one_of(
        st.binary(max_size=8), st.sampled_from([b'"', b"{", b"\\u0000", b"\xff"])
    )

    def splice(one: int, other: int, piece: bytes) -> bytes:
        start, end = sorted((one, other))
        return valid[:start] + piece + valid[end:]

    return st.one_of(
        st.binary(max_size=200),
        st.builds(splice, places, places, pieces),
        st.builds(lambda at, piece: splice(at, at + len(piece), piece), places, pieces),
    )


READERS: dict[str, tuple[bytes, Callable[[bytes], object], tuple[type[Exception], ...]]] = {
    "csv": (CSV, lambda data: table.read_table(data, LAYOUTS), ()),
    "xlsx": (XLSX, unpacking.read_lines, (UnreadableError,)),
    "portable record": (GOOD, lambda data: verify_bundle(data, None).line, ()),
    "json": (GOOD, parse, (MalformedError,)),
    "statement": (good_ledger().statements[3], read_statement, (MalformedError,)),
    "entry": (ENTRY, read_entry, (MalformedError,)),
    "letter of a phone": (
        LETTER,
        lambda data: read_letter("a" * 32, LETTER_HEADERS, data),
        (InvalidError,),
    ),
    "note": (
        NOTE.encode(),
        lambda data: notes.open_note(data.decode(errors="surrogateescape"), NOTE_KEY),
        (notes.NoteError,),
    ),
    "checkpoint": (
        b"school.example/ledger\n3\nV3szxuytgdRUTXgx5nGV3QD0uKiSuBa4SxJLYxpUmYs=\n",
        lambda data: notes.read_checkpoint(data.decode(errors="replace")),
        (notes.NoteError,),
    ),
}


@pytest.mark.parametrize("name", READERS)
def test_a_reader_refuses_in_its_own_words_alone(name: str) -> None:
    valid, read, documented = READERS[name]
    taken: list[bytes] = []

    @LIGHT
    @example(valid)
    @given(mutated(valid))
    def feed(data: bytes) -> None:
        try:
            read(data)
            taken.append(data)
        except documented:
            pass

    feed()
    assert valid in taken
