"""Whether what a portable record says holds together, one question a function.

They are asked in the order of `bundle.py`, and the first that fails decides the code. Another
program that reads the format must ask in the same order to give the same code.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from gradebook.ledger import keys, notes
from gradebook.ledger.bundle_file import Bundle, Item
from gradebook.ledger.bundle_keys import (
    ALTERED,
    BROKEN,
    MALFORMED,
    SUPERSEDED,
    UNKNOWN_KEY,
    BundleError,
    Ring,
)
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.ledger.fields import hexadecimal, list_of, whole
from gradebook.ledger.statements import Statement, read_statement
from gradebook.ledger.succession import Succession, limits
from gradebook.ledger.tree import verify_inclusion
from syllabus.revision import content_hash

SIGN, VOID, ERASE, CERTIFY = "record.sign", "record.void", "record.erase", "record.certify"
_NUMBERS = list_of(whole(1))


@dataclass(frozen=True, slots=True)
class Said:
    """One entry's number, its statement's hash, and the statement unless it was erased."""

    seq: int
    sha256: str
    statement: Statement | None


def check_checkpoint(bundle: Bundle) -> notes.Checkpoint:
    """The note is one signature of the school's key, over a checkpoint of this ledger."""
    if bundle.checkpoint.rpartition("\n\n")[2].count("\n") != 1:
        raise BundleError(MALFORMED, "the checkpoint carries one signature")
    try:
        checkpoint = notes.read_checkpoint(notes.open_note(bundle.checkpoint, bundle.vkey))
    except notes.NotSignedError as error:
        raise BundleError(UNKNOWN_KEY, "the checkpoint is signed by another key") from error
    except notes.WrongSignatureError as error:
        raise BundleError(ALTERED, "the checkpoint is not what the school signed") from error
    except notes.NoteError as error:
        raise BundleError(MALFORMED, f"the checkpoint: {error}") from error
    if not checkpoint.origin == bundle.origin == notes.read_verifier_key(bundle.vkey)[0]:
        raise BundleError(ALTERED, "the checkpoint is of another ledger")
    return checkpoint


def check_tree(items: Sequence[Item], checkpoint: notes.Checkpoint) -> None:
    """Every entry is in the tree at its number, and follows the one before it.

    One proof that fails is an entry altered; all of them failing, another tree.
    """
    if any(item.entry.seq > checkpoint.size for item in items):
        raise BundleError(BROKEN, "the checkpoint is older than the entries")
    failed = [item.entry.seq for item in items if not _is_included(item, checkpoint)]
    if failed:
        code = BROKEN if len(failed) == len(items) else ALTERED
        raise BundleError(code, f"entry {failed[0]} is not in the ledger the school signed")
    for one, after in pairwise(items):
        if one.entry.seq + 1 == after.entry.seq and one.leaf.hex() != after.entry.prev:
            raise BundleError(BROKEN, f"entry {after.entry.seq} does not follow the one before")


def _is_included(item: Item, checkpoint: notes.Checkpoint) -> bool:
    place = item.entry.seq - 1
    return verify_inclusion(place, checkpoint.size, item.leaf, item.proof, checkpoint.root)


def check_statements(bundle: Bundle) -> tuple[tuple[Said, ...], Succession]:
    """Every statement is what its entry holds and is signed by a key in force there.

    Gives what was said, and the school's keys one after another.
    """
    ring = Ring(Succession(origin=bundle.origin), limits(_readable(bundle)))
    said = tuple(_check_statement(item, ring) for item in bundle.items)
    erasures = {hashed for one in said for hashed in _named(one, ERASE, "erases")}
    for one in said:
        if one.statement is None and one.sha256 not in erasures:
            raise BundleError(ALTERED, f"the statement of entry {one.seq} was taken out")
    if ring.line.keys and ring.school != keys.kid(bundle.public):
        raise BundleError(UNKNOWN_KEY, "the ledger is under another key than the file")
    _check_keys(bundle, ring)
    return said, ring.line


def _readable(bundle: Bundle) -> Iterator[Statement]:
    for item in bundle.items:
        try:
            yield read_statement(item.statement or "")
        except MalformedError:
            continue


def _check_statement(item: Item, ring: Ring) -> Said:
    entry = item.entry
    if item.statement is None:
        return Said(entry.seq, entry.stmt_sha256, None)
    text = item.statement.encode()
    if sha256_hex(text) != entry.stmt_sha256:
        raise BundleError(ALTERED, f"the statement of entry {entry.seq} was changed")
    try:
        statement = read_statement(text)
    except MalformedError as error:
        raise BundleError(MALFORMED, f"entry {entry.seq}: {error}") from error
    ring.judge(item, statement)
    return Said(entry.seq, entry.stmt_sha256, statement)


def _check_keys(bundle: Bundle, ring: Ring) -> None:
    if [key["kid"] for key in bundle.keys] != list(ring.known):
        raise BundleError(UNKNOWN_KEY, "the list of keys is not that of the ledger")
    if list(bundle.keys) != list(ring.known.values()):
        raise BundleError(ALTERED, "the list of keys was changed")


def check_certificate(bundle: Bundle, said: Sequence[Said]) -> None:
    """The last entry certifies exactly the others and what the copy shows."""
    last = said[-1].statement if said else None
    if last is None or last.type != CERTIFY:
        raise BundleError(BROKEN, "the record does not end with its certificate")
    body, of = last.body, bundle.subject["enrolment"]
    lists = [body.get("entries"), body.get("keys")]
    if not all(_NUMBERS(one) for one in lists) or not hexadecimal(64)(body.get("copy")):
        raise BundleError(MALFORMED, "the certificate cannot be read")
    if body.get("of") != of:
        raise BundleError(ALTERED, "the certificate is of another record")
    held: tuple[list[int], list[int]] = ([], [])
    for one in said[:-1]:
        about = of if one.statement is None else one.statement.subject
        if about not in (of, None):
            raise BundleError(ALTERED, f"entry {one.seq} is of another record")
        held[about is None].append(one.seq)
    if list(held) != lists:
        raise BundleError(BROKEN, "entries that the certificate lists are not these")
    if body["copy"] != bundle.copy:
        raise BundleError(ALTERED, "what the copy shows is not what was certified")


def check_revisions(bundle: Bundle) -> None:
    """Every revision of the syllabus is named by its content."""
    for revision in bundle.revisions:
        if content_hash(revision["files"]) != revision["id"]:
            raise BundleError(ALTERED, f"revision {revision['id'][:12]} was changed")


def check_current(bundle: Bundle, said: Sequence[Said]) -> None:
    """What is shown as current is what no later statement replaces or voids."""
    seen: set[str] = set()
    replaced: set[str] = set()
    for one in said:
        for hashed in (*_named(one, SIGN, "supersedes"), *_named(one, VOID, "voids")):
            if hashed in replaced or hashed not in seen:
                raise BundleError(BROKEN, f"entry {one.seq} replaces what cannot be replaced")
            replaced.add(hashed)
        seen.add(one.sha256)
    kept = [one.statement for one in said if one.sha256 not in replaced]
    current = [one.id for one in kept if one is not None and one.type == SIGN]
    if current != list(bundle.current):
        raise BundleError(SUPERSEDED, "what it shows as current is not what is in force")


def _named(one: Said, kind: str, name: str) -> Iterator[str]:
    """The hash of another statement that one of this kind names, if it does."""
    if one.statement is not None and one.statement.type == kind:
        hashed = one.statement.body.get(name)
        if hashed is not None:
            yield str(hashed)
