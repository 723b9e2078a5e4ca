"""What one row of a ledger says by itself, whatever stands before it."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from gradebook.ledger import keys
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement


@dataclass(frozen=True, slots=True)
class Stored:
    """One row as stored: its place, the two texts, the leaf and the tree's nodes."""

    seq: int
    entry: str
    statement: str
    leaf: str
    nodes: bytes


@dataclass(frozen=True, slots=True)
class Gleaned:
    """The two texts as read; `fault` says why the row cannot be read.

    `statement` is None where its text is gone. `fits` is the public key, out of those asked
    about, that the signature was found right under: None is no verdict.
    """

    entry: Entry | None = None
    statement: Statement | None = None
    digest: str = ""
    fits: bytes | None = None
    fault: str = ""


Publics: TypeAlias = Mapping[str, bytes]
"""Public keys by name."""
Gleaning: TypeAlias = Callable[
    [Iterable[Stored], Callable[[], Publics]], Iterator[tuple[Stored, Gleaned]]
]
"""How rows are gleaned, in their order; the keys known so far can be asked for on the way."""


def glean(entry_text: str, text: str, publics: Publics) -> Gleaned:
    """Read a row's two texts, and check the signature if its key is one of `publics`."""
    try:
        entry = read_entry(entry_text)
        if not text:
            return Gleaned(entry)
        statement = read_statement(text)
    except MalformedError as fault:
        return Gleaned(fault=str(fault))
    said = text.encode()
    digest, public = sha256_hex(said), publics.get(entry.kid)
    right = (
        public is not None and digest == entry.stmt_sha256 and is_signed(entry, said, public)
    )
    return Gleaned(entry, statement, digest, public if right else None)


def is_signed(entry: Entry, statement: bytes, public: bytes) -> bool:
    """Whether the entry's signature of a statement's text is this key's."""
    return keys.verify_statement(public, statement, bytes.fromhex(entry.sig))


def one_by_one(
    rows: Iterable[Stored], _: Callable[[], Publics]
) -> Iterator[tuple[Stored, Gleaned]]:
    """Each row when it is asked for; signatures are left to whoever asks."""
    for row in rows:
        yield row, glean(row.entry, row.statement, {})
