"""What a database holds of records that were to be signed, read from its own rows."""

from collections.abc import Collection, Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger.statements import read_statement
from gradebook.records.store import people, proof
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.needle import NeedleForecast
from gradebook.records.values import State
from tests.cast import TestSchool
from tests.faults.history import Kept, Tally
from tests.faults.seeing import astray


def kept(session: Session, records: Collection[str]) -> Mapping[str, Kept]:
    """What there is of each of these records, and of anything signed that nobody asked for."""
    entries: dict[str, list[tuple[int, str]]] = {}
    for row in session.scalars(select(LedgerEntry).filter_by(kind="record.sign")):
        record = str(read_statement(row.statement).body["record"])
        entries.setdefault(record, []).append((row.seq, row.digest))
    states = dict(session.execute(select(LessonRecord.id, LessonRecord.state)).all())
    graded = set(session.scalars(select(Grade.record_id)))
    foretold = set(session.scalars(select(NeedleForecast.record_id)))
    noted = set(
        session.scalars(select(AuditEvent.object_id).filter_by(action="lesson-record:sign"))
    )
    return {
        record: Kept(
            [seq for seq, _ in entries.get(record, ())],
            [digest for _, digest in entries.get(record, ())],
            {
                "state": states.get(record, State.DRAFT) != State.DRAFT,
                "grades": record in graded,
                "forecast": record in foretold,
                "audit": record in noted,
            },
        )
        for record in {*records, *entries}
    }


def prove(school: TestSchool, found: Tally) -> None:
    """Count every finding of the proof, and every needle that is not what its records make."""
    with school.database.read() as session:
        known = people.school(session)
        assert known is not None
        proven = proof.prove(session, known.vkey)
    found.unproven += len(proven.findings)
    found.words += [one.words for one in proven.findings]
    for enrolment in astray(school.database):
        found.half += 1
        found.words.append(f"half: the needle of {enrolment} is not what its records make")
