"""Carrying out what two people signed: a student's records are erased, in one transaction.

The only door through the guards beside a migration: it takes the role that owns the schema.
Guards come off, rows go, guards come back and are compared, and before anything is committed
the whole ledger is proved as `windtee verify` does it; what does not hold undoes it all.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Engine, func, select, update
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.erasures import ERASE, Erasure, read_notice
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.statements import read_statement
from gradebook.records.commands import checkpointing, destroying, founding
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.commands.destroying import ErasingError
from gradebook.records.database import WRITER, migrating
from gradebook.records.store import auditing, erasing, people, proof, schoolkeys
from gradebook.records.store.erasing import ErasureRequest, Subject
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.erasures import ErasureNotice
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.training import Enrolment

ACTION = "system:erase"


@dataclass(frozen=True, slots=True)
class House:
    """The school's seed, and the checkpoints that were kept elsewhere."""

    seed: bytes
    outside: Sequence[Checkpoint] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """An erasure carried out: what it took, and the checkpoint that fixes it."""

    erasure: Erasure
    checkpoint: LedgerCheckpoint | None


def waiting(session: Session) -> list[ErasureRequest]:
    """Requests that two people signed and nobody has carried out, the oldest first."""
    found = [row for row in erasing.requests(session) if row.confirmed and row.done_at is None]
    return sorted(found, key=lambda row: (row.decided_at or row.asked_at, row.id))


def carry_out(engine: Engine, house: House, request_id: str, at: datetime) -> Done:
    """Erase what a confirmed request is about; ErasingError, and nothing is changed, else."""
    with owning(engine) as session:
        return carry_out_in(session, house, request_id, at)


def carry_out_in(session: Session, house: House, request_id: str, at: datetime) -> Done:
    """The same within a transaction that is `owning`; on ErasingError it has to be undone."""
    row = erasing.request(session, request_id)
    if not row.confirmed or row.done_at is not None or row.person_id is None:
        raise ErasingError("This request is not one that waits to be carried out.")
    who = erasing.subject(session, row.person_id)
    if who.covers != row.covers:
        raise ErasingError(
            "There are other entries than two people put their names to: let it be called "
            "off and asked for anew."
        )
    erasure = _stated(session, house, row, who, at)
    destroying.destroy(session, who, erasure)
    _settle(session, row, erasure, at)
    known = max(house.outside, key=lambda one: one.size, default=None)
    signer = founding.server_act(session, house.seed, at).pen
    issued = checkpointing.issue(session, signer.house, at, known) if signer else None
    _prove(session, house.outside)
    return Done(erasure, issued)


def apply_again(engine: Engine, data: bytes, at: datetime) -> bool:
    """Erase once more what an older copy brought back, by a notice of the school.

    False when there is nothing to do. No key is needed: the notice is kept as the proof. The
    copy is proved in itself; that it is shorter than checkpoints say is told elsewhere.
    """
    with owning(engine) as session:
        erasure, entry, statement = owed(session, data) or (None, "", "")
        if erasure is None:
            return False
        who = _subject_by(session, erasure)
        row = ErasureNotice(
            digest=sha256_hex(entry.encode()),
            seq=erasure.seq,
            entry=entry,
            statement=statement,
            taken_at=at,
        )
        session.add(row)
        session.flush()
        destroying.destroy(session, who, erasure)
        facts = {"entries": len(erasure.entries), "again": erasure.seq}
        auditing.add(
            session, AuditEvent(at=at, action=ACTION, object_id=erasure.name, facts=facts)
        )
        _prove(session, ())
    return True


def owed(session: Session, data: bytes) -> tuple[Erasure, str, str] | None:
    """The erasure of a notice, if this database still holds a text of it; else None.

    MalformedError when the school did not sign the notice.
    """
    publics = [one.public for one in schoolkeys.succession(session).keys]
    erasure, entry, statement = read_notice(data, publics)
    said = dict(erasure.entries)
    query = select(LedgerEntry.seq, LedgerEntry.digest).where(LedgerEntry.statement != "")
    held = [
        seq
        for part in destroying.parts(sorted(said))
        for seq, digest in session.execute(query.where(LedgerEntry.seq.in_(part)))
        if said[seq] == digest
    ]
    return (erasure, entry, statement) if held else None


def _subject_by(session: Session, erasure: Erasure) -> Subject:
    """Whom the entries are about that an erasure lists, as this database still has it."""
    people_found, enrolled = set[str](), set[str]()
    for part in destroying.parts([seq for seq, _ in erasure.entries]):
        query = select(LedgerEntry.statement).where(LedgerEntry.seq.in_(part))
        for text in session.scalars(query):
            statement = read_statement(text) if text else None
            if statement is None:
                continue
            if statement.subject:
                enrolled.add(statement.subject)
            elif erasure.account:
                body = statement.body
                said = (body.get(name) for name in ("person", "holder"))
                people_found |= {str(one) for one in said if one}
    query = select(Enrolment.student_id).where(Enrolment.id.in_(enrolled))
    people_found |= set(session.scalars(query))
    if len(people_found) != 1:
        raise ErasingError("The notice is not about one student of this school.")
    return replace(erasing.subject(session, people_found.pop()), account=erasure.account)


@contextmanager
def owning(engine: Engine) -> Iterator[Session]:
    """A session whose connection may lift the guards, alone, whole or not at all.

    On SQLite whatever is deleted is overwritten at once.
    """
    with migrating(engine, bound=True) as connection:
        if connection.dialect.name == "sqlite":
            connection.connection.dbapi_connection.execute("PRAGMA secure_delete=ON")  # type: ignore[union-attr]
        with connection.begin(), Session(connection, expire_on_commit=False) as session:
            if connection.dialect.name == "postgresql":
                session.execute(select(func.pg_advisory_xact_lock(WRITER)))
            yield session
            session.flush()


def _stated(
    session: Session, house: House, row: ErasureRequest, who: Subject, at: datetime
) -> Erasure:
    """Enter the school's statement of what is erased, before it is."""
    events = tuple(erasing.events(session, who))
    body = {
        "erasure": row.id,
        "asked": row.asked_seq,
        "confirmed": row.decided_seq,
        "asked_by": row.asked_by,
        "confirmed_by": row.decided_by,
        "basis": row.basis,
        "early": row.early,
        "account": row.account,
        "entries": [list(one) for one in who.entries],
        "events": [list(one) for one in events],
        "rows": destroying.counted(session, who),
    }
    act = founding.server_act(session, house.seed, at)
    placed = act.state(ERASE, None, body)
    return Erasure(
        seq=placed.seq,
        name=row.id,
        at=clock.zulu(placed.claimed_at),
        asked=row.asked_seq,
        confirmed=row.decided_seq or 0,
        account=row.account,
        early=row.early,
        entries=who.entries,
        events=events,
        rows=body["rows"],  # type: ignore[arg-type]
    )


def _settle(session: Session, row: ErasureRequest, erasure: Erasure, at: datetime) -> None:
    """The request is done and forgets whom it was about; the trail says that it was done."""
    session.execute(
        update(ErasureRequest)
        .where(ErasureRequest.id == row.id)
        .values(person_id=None, done_at=at, seq=erasure.seq)
    )
    facts = {"entries": len(erasure.entries), "by": erasure.seq, "early": erasure.early}
    auditing.add(session, AuditEvent(at=at, action=ACTION, object_id=row.id, facts=facts))


def _prove(session: Session, outside: Sequence[Checkpoint]) -> None:
    """Return when everything is provable as things stand now; else ErasingError."""
    session.flush()
    school = people.school(session)
    found = proof.prove(session, school.vkey if school else "", outside)
    if found.code:
        words = " ".join(one.words for one in found.findings[:3])
        raise ErasingError(f"The ledger would not hold, run windtee verify. {words}")
