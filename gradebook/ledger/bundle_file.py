"""The file of a portable record: its fields, read strictly, and the way to write it.

The file is RFC 8785 text (one line end may follow), so there is one way to write what it says.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from gradebook.ledger.canonical import MalformedError, jcs, parse, sha256_hex
from gradebook.ledger.fields import (
    MOMENT,
    SOME,
    UUID,
    Check,
    fitting,
    hexadecimal,
    is_object,
    is_text,
    list_of,
    or_none,
    text_like,
    whole,
)
from gradebook.ledger.notes import NoteError, read_verifier_key
from gradebook.ledger.statements import Entry, read_entry
from gradebook.ledger.succession import KEY
from syllabus.revision import content_hash

FORMAT = "windtee-record/1"
LARGEST_FILE = 32 * 1024 * 1024  # bytes
_FILE: Mapping[str, Check] = {
    "format": text_like(FORMAT),
    "origin": SOME,
    "vkey": SOME,
    "issued_at": MOMENT,
    "checkpoint": is_text,
    "subject": is_object,
    "keys": list_of(is_object),
    "entries": list_of(is_object),
    "revisions": list_of(is_object),
    "current": list_of(UUID),
    "shown": is_object,
}
_SUBJECT: Mapping[str, Check] = dict.fromkeys(("enrolment", "student", "name", "course"), SOME)
_ITEM: Mapping[str, Check] = {
    "seq": whole(1),
    "entry": is_text,
    "statement": or_none(is_text),
    "proof": list_of(hexadecimal(64)),
}
_REVISION: Mapping[str, Check] = {"id": hexadecimal(64), "files": is_object}
# What a printed copy shows that no one entry says: bound by the certificate's `copy`.
_COPY = ("issued_at", "shown", "subject")


@dataclass(frozen=True, slots=True)
class Item:
    """One entry of the file, with its statement (None once erased) and its proof."""

    entry: Entry
    leaf: bytes
    statement: str | None
    proof: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class Bundle:
    """The file as read: nothing in it is believed yet."""

    origin: str
    vkey: str
    public: bytes
    checkpoint: str
    subject: Mapping[str, str]
    keys: tuple[Mapping[str, str], ...]
    items: tuple[Item, ...]
    revisions: tuple[Mapping[str, Any], ...]
    current: tuple[str, ...]
    copy: str


def write_bundle(fields: Mapping[str, Any]) -> bytes:
    """The file that says so; MalformedError if the fields are not those of a record."""
    data = jcs(dict(fields)) + b"\n"
    read_bundle(data)
    return data


def copy_digest(fields: Mapping[str, Any]) -> str:
    """SHA-256 (hex) of what is shown beside the entries; the certificate holds it as `copy`.

    It is over the RFC 8785 text of an object of `issued_at`, `shown`, `subject` as in the file
    and `revisions`, the list of their ids.
    """
    bound: dict[str, Any] = {name: fields[name] for name in _COPY}
    bound["revisions"] = [revision["id"] for revision in fields["revisions"]]
    return sha256_hex(jcs(bound))


def certificate(
    fields: Mapping[str, Any], entries: Sequence[int], others: Sequence[int]
) -> dict[str, Any]:
    """The body of the `record.certify` statement that ends the file with these fields.

    `entries` are the numbers of all entries about the enrolment but this one, `others` of the
    ones about no enrolment that come along: the school's opening, keys, revocations. The
    fields needed are `subject`, `issued_at`, `shown` and `revisions`.
    """
    of = fields["subject"]["enrolment"]
    numbers = {"entries": sorted(entries), "keys": sorted(others)}
    return {"of": of, **numbers, "copy": copy_digest(fields)}


def revision(files: Mapping[str, str]) -> dict[str, Any]:
    """A revision of the syllabus as the file holds it: plain line ends, named by content."""
    plain = {
        name: text.replace("\r\n", "\n").replace("\r", "\n") for name, text in files.items()
    }
    return {"id": content_hash(files), "files": plain}


def read_bundle(data: bytes) -> Bundle:
    """Read a file; MalformedError says what in it cannot be."""
    if len(data) > LARGEST_FILE:
        raise MalformedError("larger than any record is")
    parsed = parse(data)
    if jcs(parsed) != data.removesuffix(b"\n"):
        raise MalformedError("not written in its canonical form")
    fields = fitting(parsed, _FILE, "a record")
    items = tuple(_item(one) for one in fields["entries"])
    if any(one.entry.seq >= after.entry.seq for one, after in pairwise(items)):
        raise MalformedError("the entries are not in their order")
    return Bundle(
        origin=fields["origin"],
        vkey=fields["vkey"],
        public=_public(fields["vkey"]),
        checkpoint=fields["checkpoint"],
        subject=fitting(fields["subject"], _SUBJECT, "a subject"),
        keys=tuple(fitting(one, KEY, "a key") for one in fields["keys"]),
        items=items,
        revisions=tuple(_revision(one) for one in fields["revisions"]),
        current=tuple(fields["current"]),
        copy=copy_digest(fields),
    )


def _public(vkey: str) -> bytes:
    try:
        return read_verifier_key(vkey)[2]
    except NoteError as error:
        raise MalformedError(f"the school's key: {error}") from error


def _item(value: object) -> Item:
    fields = fitting(value, _ITEM, "an entry of the file")
    entry = read_entry(fields["entry"])
    if entry.seq != fields["seq"]:
        raise MalformedError(f"entry {entry.seq} stands there as {fields['seq']}")
    proof = tuple(bytes.fromhex(one) for one in fields["proof"])
    return Item(entry, entry.leaf(), fields["statement"], proof)


def _revision(value: object) -> Mapping[str, Any]:
    fields = fitting(value, _REVISION, "a revision")
    for text in fields["files"].values():
        if not isinstance(text, str) or "\r" in text:
            raise MalformedError("a revision's file is a text whose lines end in \\n alone")
    return fields
