"""What is fed with rubbish: a reader of bytes, what may come of it, and where to begin.

Whatever a target lets out is a fault. `windtee` itself never sees this package.
"""

import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass

from gradebook.exchange import unpacking
from gradebook.exchange.lines import UnreadableError
from gradebook.exchange.table import read_table
from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.canonical import MalformedError, canonical, is_canonical, parse
from gradebook.ledger.notes import (
    NoteError,
    fingerprint,
    open_note,
    read_checkpoint,
    read_verifier_key,
    verifier_key,
)
from gradebook.records import importing
from tests.exchange.test_workbook import HEADER, workbook
from tests.ledger.small_ledger import GOOD, ORIGIN, good_ledger, public
from tests.ledger.spoilt_files import CONTENT, spoilt

VKEY = verifier_key(ORIGIN, public("school"))
SHEET, PARTS = "xl/worksheets/sheet1.xml", "xl/workbook.xml"
BOOK = workbook(HEADER, ["Rex", "dog", "2026-05-31", 1.2, True, "=1+1"])
LARGEST = 64 * 1024


@dataclass(frozen=True, slots=True)
class Target:
    """What reads the bytes, and files it begins with."""

    read: Callable[[bytes], None]
    seeds: tuple[bytes, ...]


def table(data: bytes) -> None:
    """A CSV file: rows or faults, each at a line that the file has."""
    read = read_table(data, importing.LAYOUTS)
    last = data.count(b"\n") + data.count(b"\r") + 1
    assert read.rows or read.faults
    assert all(0 <= one.line <= last for one in (*read.rows, *read.faults))


def book(data: bytes) -> None:
    """A workbook; or, behind a first byte that says so, one of its parts inside a good one."""
    whole = data if data[:1] == b"P" else _with_part(data)
    try:
        lines, _ = unpacking.read_lines(whole)
    except UnreadableError:
        return
    json.dumps(lines)


def _with_part(data: bytes) -> bytes:
    name = PARTS if data[:1] == b"S" else SHEET
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BOOK)) as good, zipfile.ZipFile(out, "w") as made:
        for one in good.namelist():
            made.writestr(one, data[1:] if one == name else good.read(one))
    return out.getvalue()


def bundle(data: bytes) -> None:
    """A portable record: one of the codes, in one line."""
    verdict = verify_bundle(data, VKEY)
    assert verdict.code in {0, 2, 3, 4, 5, 6}
    assert "\n" not in verdict.line


def text(data: bytes) -> None:
    """Strict JSON: refused, or the same value to every reader and after every writing."""
    try:
        value = parse(data)
    except MalformedError:
        return
    assert value == json.loads(data)
    once = canonical(value)
    again = parse(once)
    assert canonical(again) == once
    assert is_canonical(again, once)
    assert is_canonical(value, data) == (once == data)


def note(data: bytes) -> None:
    """A signed note: only what the school signed is opened."""
    words = data.decode(errors="surrogateescape")
    for read in (_opened, _key):
        try:
            read(words)
        except NoteError:
            continue


def _opened(words: str) -> None:
    signed = open_note(words, VKEY)
    assert signed == good_ledger().checkpoint().rpartition("\n\n")[0] + "\n"
    assert read_checkpoint(signed).text() == signed


def _key(words: str) -> None:
    name, _, key = read_verifier_key(words)
    assert verifier_key(name, key) == words
    assert len(fingerprint(words)) == 39


HEAD = b"name,email,course,enrolled_on,instructor_email\n"
CSV = HEAD + b"Ana Rusk,a@b.example,c,2026-05-31,x@y.z\n"
TARGETS = {
    "table": Target(table, (CSV, CSV.replace(b",", b";"), b'"a\nb",c\n', b"\xef\xbb\xbfa\n")),
    "book": Target(
        book,
        (
            BOOK,
            b"W" + zipfile.ZipFile(io.BytesIO(BOOK)).read(SHEET),
            b"S" + zipfile.ZipFile(io.BytesIO(BOOK)).read(PARTS),
        ),
    ),
    "bundle": Target(bundle, (GOOD, *(spoilt(name) for name in CONTENT))),
    "text": Target(
        text, (GOOD, b'{"a":[1,-2,null,"\\ud83d\\ude00"]}', '{"é":"e\u0301"}'.encode())
    ),
    "note": Target(note, (good_ledger().checkpoint().encode(), VKEY.encode())),
}
