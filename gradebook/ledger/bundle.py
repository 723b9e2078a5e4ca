"""The verdict on a portable record: one file, no network, no database.

Asked in this order: can it be read (5); is the checkpoint the school's (5, 4, 2); are the
entries in its tree (3, 2); are the statements theirs, signed by keys in force (2, 5, 4); does
the certificate list them and what is shown (3, 5, 2); are the revisions unchanged (2); is what
is shown as current in force (3, 6); and last, is the school's key the one trusted (4).
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from gradebook.ledger import bundle_checks as checks
from gradebook.ledger.bundle_checks import BundleError, Said
from gradebook.ledger.bundle_file import (
    Bundle,
    certificate,
    read_bundle,
    revision,
    write_bundle,
)
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.notes import Checkpoint, fingerprint

__all__ = [
    "Verdict",
    "certificate",
    "fingerprint",
    "revision",
    "verify_bundle",
    "write_bundle",
]
_PLAIN = {
    checks.GOOD: "Good",
    checks.ALTERED: "Altered",
    checks.BROKEN: "Incomplete, rolled back or forked",
    checks.UNKNOWN_KEY: "Unknown or revoked key",
    checks.MALFORMED: "Not a record that can be read",
    checks.SUPERSEDED: "Out of date",
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """The code (0 is good), one line in plain words, and what else there is to know."""

    code: int
    line: str
    details: tuple[str, ...] = ()


def verify_bundle(data: bytes, trusted: str | None) -> Verdict:
    """Judge a file; `trusted` is the school's fingerprint or key line, got by another way.

    0 good, 2 content altered, 3 truncated, rolled back or forked, 4 unknown or revoked key,
    5 malformed, 6 superseded record shown as current. Without `trusted` a good file is only
    known to agree with itself, and the line says so. Raises nothing, whatever the file.
    """
    try:
        bundle = read_bundle(data)
    except MalformedError as error:
        return _verdict(checks.MALFORMED, str(error))
    try:
        checkpoint = checks.check_checkpoint(bundle)
        checks.check_tree(bundle.items, checkpoint)
        said = checks.check_statements(bundle)
        checks.check_certificate(bundle, said)
        checks.check_revisions(bundle)
        checks.check_current(bundle, said)
    except BundleError as error:
        return _verdict(error.code, str(error))
    details = tuple(_details(bundle, checkpoint, said))
    if trusted is None:
        words = f"the file agrees with itself; compare the fingerprint to know {bundle.origin}"
        return _verdict(checks.GOOD, words, details)
    if not _is_trusted(bundle.vkey, trusted):
        words = "the file agrees with itself, but its key is not the one you trust"
        return _verdict(checks.UNKNOWN_KEY, words, details)
    return _verdict(checks.GOOD, f"whole and unaltered, certified by {bundle.origin}", details)


def _verdict(code: int, words: str, details: tuple[str, ...] = ()) -> Verdict:
    return Verdict(code, f"{_PLAIN[code]}: {words}.", details)


def _is_trusted(vkey: str, trusted: str) -> bool:
    """Whether the words are this key's line, or its fingerprint however it is spaced."""
    digits = re.sub(r"[\s:-]", "", trusted).lower()
    return trusted.strip() == vkey or digits == fingerprint(vkey).replace(" ", "")


def _details(bundle: Bundle, checkpoint: Checkpoint, said: tuple[Said, ...]) -> Iterator[str]:
    yield f"Fingerprint of the key: {fingerprint(bundle.vkey)}"
    yield f"Entries: {len(said)} of {checkpoint.size} in the ledger"
    yield f"Lesson records in force: {len(bundle.current)}"
    erased = sum(one.statement is None for one in said)
    if erased:
        yield f"Statements erased by right: {erased}"
