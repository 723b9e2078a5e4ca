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
from gradebook.ledger.bundle_checks import Said
from gradebook.ledger.bundle_file import (
    Bundle,
    certificate,
    read_bundle,
    revision,
    write_bundle,
)
from gradebook.ledger.bundle_keys import (
    ALTERED,
    BROKEN,
    GOOD,
    MALFORMED,
    SUPERSEDED,
    UNKNOWN_KEY,
    BundleError,
)
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.notes import Checkpoint, fingerprint
from gradebook.ledger.succession import Succession

__all__ = [
    "Verdict",
    "certificate",
    "fingerprint",
    "revision",
    "verify_bundle",
    "write_bundle",
]
_PLAIN = {
    GOOD: "Good",
    ALTERED: "Altered",
    BROKEN: "Incomplete, rolled back or forked",
    UNKNOWN_KEY: "Unknown or revoked key",
    MALFORMED: "Not a record that can be read",
    SUPERSEDED: "Out of date",
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """The code (0 is good), one line in plain words, and what else there is to know.

    `prints` are the fingerprints by which the file can be trusted, that of its own key first.
    """

    code: int
    line: str
    details: tuple[str, ...] = ()
    prints: tuple[str, ...] = ()


def verify_bundle(data: bytes, trusted: str | None) -> Verdict:
    """Judge a file; `trusted` is the school's fingerprint or key line, got by another way.

    0 good, 2 content altered, 3 truncated, rolled back or forked, 4 unknown or revoked key,
    5 malformed, 6 superseded record shown as current. Without `trusted` a good file is only
    known to agree with itself, and the line says so. A key that gave way in order is as good
    as the one that follows it, one that was compromised is not. Raises nothing, whatever the
    file.
    """
    try:
        bundle = read_bundle(data)
    except MalformedError as error:
        return _refused(MALFORMED, error)
    try:
        checkpoint = checks.check_checkpoint(bundle)
        checks.check_tree(bundle.items, checkpoint)
        said, line = checks.check_statements(bundle)
        checks.check_certificate(bundle, said)
        checks.check_revisions(bundle)
        checks.check_current(bundle, said)
    except BundleError as error:
        return _refused(error.code, error)
    prints = tuple(line.fingerprint_of(one) for one in reversed(line.followed))
    details = tuple(_details(bundle, checkpoint, said, line))
    code, words = _trust(bundle, line, trusted)
    return Verdict(code, f"{_PLAIN[code]}: {words}.", details, prints)


def told(line: Succession) -> Iterator[str]:
    """The school's earlier keys, newest first, a line each."""
    for key in reversed(line.keys[:-1]):
        how = "compromised, told in" if key.compromised else "followed in"
        words = f"for entries {key.since} to {key.until}, {how} entry {key.ended}"
        yield f"Earlier key: {line.fingerprint_of(key)}, {words}"


def _refused(code: int, error: ValueError) -> Verdict:
    return Verdict(code, f"{_PLAIN[code]}: {error}.")


def _trust(bundle: Bundle, line: Succession, trusted: str | None) -> tuple[int, str]:
    """The verdict on a file that agrees with itself, under the key trusted."""
    if trusted is None:
        words = f"the file agrees with itself; compare the fingerprint to know {bundle.origin}"
        return GOOD, words
    if any(is_trusted(line.line_of(one), trusted) for one in line.followed):
        return GOOD, f"whole and unaltered, certified by {bundle.origin}"
    words = "the file agrees with itself, but its key is not the one you trust"
    if any(is_trusted(line.line_of(one), trusted) for one in line.keys):
        words = "the key you trust was compromised: get the new fingerprint from the school"
    return UNKNOWN_KEY, words


def is_trusted(vkey: str, trusted: str) -> bool:
    """Whether the words are this key's line, or its fingerprint however it is spaced."""
    digits = re.sub(r"[\s:-]", "", trusted).lower()
    return trusted.strip() == vkey or digits == fingerprint(vkey).replace(" ", "")


def _details(
    bundle: Bundle, checkpoint: Checkpoint, said: tuple[Said, ...], line: Succession
) -> Iterator[str]:
    yield f"Fingerprint of the key: {fingerprint(bundle.vkey)}"
    yield from told(line)
    yield f"Entries: {len(said)} of {checkpoint.size} in the ledger"
    yield f"Lesson records in force: {len(bundle.current)}"
    erased = sum(one.statement is None for one in said)
    if erased:
        yield f"Statements erased by right: {erased}"
