"""Issuing checkpoints: the school signs how long its ledger is, and never goes back on it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from gradebook.ledger import notes
from gradebook.ledger.canonical import canonical
from gradebook.ledger.notes import Checkpoint
from gradebook.records import checkpoints
from gradebook.records.act import check_house
from gradebook.records.commands import founding
from gradebook.records.faults import TornError, UnknownError
from gradebook.records.pen import Signer
from gradebook.records.store import auditing, ledger, people, schoolkeys, signatures
from gradebook.records.store.people import School
from gradebook.records.tables.ledger import LedgerCheckpoint as LedgerCheckpoint

EVERY_ENTRIES = 100
EVERY = timedelta(days=1)


def is_due(session: Session, at: datetime) -> bool:
    """Whether this transaction has made a new checkpoint due."""
    grown = session.info.get(ledger.TIP)
    if not isinstance(grown, ledger.Tip):
        return False
    last = ledger.newest_checkpoint(session)
    if last is None:
        return grown.size > 0
    new = grown.size // EVERY_ENTRIES > last.size // EVERY_ENTRIES
    return grown.size > last.size and (new or at - last.issued_at >= EVERY)


def issue(
    session: Session, house: Signer, at: datetime, known: Checkpoint | None
) -> LedgerCheckpoint:
    """Sign the ledger as it stands; the checkpoint already there when it covers as much.

    `known` is the last one that left the building: TornError when the ledger does not contain
    what that one covers.
    """
    size = ledger.tip(session).size
    continues(session, known)
    last = ledger.newest_checkpoint(session)
    if last is not None and last.size == size:
        return last
    return keep(session, house, mark_audit(session, house, at), at)


def keep(
    session: Session, house: Signer, size: int, at: datetime, *more: bytes
) -> LedgerCheckpoint:
    """Sign the ledger over so many entries, and keep the note; `more` seeds sign it too."""
    note = note_over(session, house, size, *more)
    row = LedgerCheckpoint(size=size, note=note, issued_at=at)
    session.add(row)
    session.flush()
    return row


def ready(session: Session, seed: bytes, places: Sequence[Path]) -> School | None:
    """The school, if its key is at hand and its ledger is the one that checkpoints saw.

    None before there is a school; TornError, which says why, when it may not be served.
    """
    school = people.school(session)
    if school is None:
        return None
    if not school.vkey:
        raise TornError("The records here are not in a ledger yet: run windtee upgrade.")
    if not founding.holds_key(session, seed):
        raise TornError(
            "The school.key in this folder is not the one in force: put the right one back (it "
            "is never in a backup made without --with-keys). Where a change of keys was cut "
            "off, the same windtee key command finishes it. Where the database was put back "
            "from before a change of keys, it is the database that is too old: windtee verify."
        )
    continues(session, checkpoints.newest(places, schoolkeys.succession(session)))
    return school


def mark_audit(session: Session, house: Signer, at: datetime) -> int:
    """Let the ledger say how long the audit trail is and what its root is; the new size."""
    end = auditing.tip(session)
    body = {"events": end.size, "root": end.nodes.root(end.size).hex()}
    return founding.server_act(session, house.seed, at).state("audit.mark", None, body).seq


def note_over(session: Session, house: Signer, size: int, *more: bytes) -> str:
    """The signed note over the first `size` entries; `more` are other seeds that sign it."""
    school = people.school(session)
    if school is None:
        raise RuntimeError("there is no school yet")
    checkpoint = Checkpoint(school.origin, size, ledger.ledger_nodes(session).root(size))
    return notes.sign_note(checkpoint.text(), school.origin, house.seed, *more)


def receipt(session: Session, house: Signer, seq: int) -> bytes:
    """One entry, its path to the root, and a checkpoint over the ledger as it is: JSON.

    Whoever keeps it can show later that the entry was there, and that nothing before it has
    changed (`windtee verify --checkpoint` takes it).
    """
    row = ledger.at(session, seq)
    if row is None:
        raise UnknownError
    size, path, _ = signatures.path_of(session, seq)
    return canonical(
        {
            "format": "windtee-receipt/1",
            "seq": seq,
            "entry": row.entry,
            "proof": [one.hex() for one in path],
            "checkpoint": note_over(session, house, size),
        }
    )


def witnessed(session: Session, house: Signer, seen: Sequence[int]) -> dict[str, Any]:
    """What a witness asks for: the present note, and that it continues those over `seen`.

    A size beyond the ledger has no proof. `changes` are the school's changes of its key, each
    with its path to the note's root, so that whoever knows an earlier key can follow.
    BusyError while the key is being changed.
    """
    check_house(session, house.kid)
    school, size = people.school(session), ledger.size(session)
    nodes = ledger.ledger_nodes(session)
    proofs = {
        str(old): [one.hex() for one in nodes.continues(old, size)]
        for old in seen
        if 1 <= old <= size
    }
    return {
        "note": note_over(session, house, size),
        "vkey": school.vkey if school else "",
        "proofs": proofs,
        "changes": [
            {
                "seq": row.seq,
                "entry": row.entry,
                "statement": row.statement,
                "path": [one.hex() for one in nodes.path(row.seq - 1, size)[0]],
            }
            for row in schoolkeys.changes(session)
        ],
    }


def continues(session: Session, known: Checkpoint | None) -> None:
    """Return when the ledger begins with what `known` covers; else TornError says how not."""
    if known is None:
        return
    size = ledger.tip(session).size
    if known.size > size:
        words = f"A checkpoint covers {known.size} entries, but the ledger holds {size}."
    elif ledger.ledger_nodes(session).root(known.size) != known.root:
        words = f"The first {known.size} entries are not those of the checkpoint kept."
    else:
        return
    raise TornError(f"{words} Nothing is signed until this is explained: run windtee verify.")
