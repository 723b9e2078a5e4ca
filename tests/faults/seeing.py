"""Looking at a school between two acts: quickly at what must not change, closely at all."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from gradebook.records.commands import needling
from gradebook.records.database import MEMORY, Database
from gradebook.records.store import onfile, people, proof, standing
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleState
from gradebook.records.tables.training import Enrolment


@dataclass(frozen=True, slots=True)
class Seen:
    """The ledger's entries in order, each record's state, how many audit events there are."""

    ledger: tuple[tuple[int, str, str, str], ...]
    states: dict[str, str]
    answered: frozenset[str]
    events: int

    def goes_on(self, before: "Seen", grown: int) -> None:
        """Assert that the ledger begins as before and has grown by so many entries."""
        assert self.ledger[: len(before.ledger)] == before.ledger, "an entry changed"
        assert len(self.ledger) - len(before.ledger) == grown, "the ledger grew wrongly"
        assert self.events >= before.events + grown, "an act is missing in the audit trail"
        early = {one for one in self.answered if self.states[one] in ("draft", "signed")}
        assert not early, "answered before it was signed"


def look(database: Database) -> Seen:
    """The ledger and the states of records as they stand; what is remembered is what stands."""
    with database.read() as session:
        assert outdated(session) == []
        columns = (LedgerEntry.seq, LedgerEntry.leaf, LedgerEntry.statement, LedgerEntry.entry)
        rows = session.execute(select(*columns).order_by(LedgerEntry.seq))
        found = (LessonRecord.id, LessonRecord.state, LessonRecord.acknowledged_at)
        records = session.execute(select(*found)).all()
        return Seen(
            tuple((row[0], row[1], row[2], row[3]) for row in rows),
            {row[0]: row[1] for row in records},
            frozenset(row[0] for row in records if row[2] is not None),
            session.scalar(select(func.count()).select_from(AuditEvent)) or 0,
        )


def outdated(session: Session) -> list[str]:
    """Enrolments of which readers remember another file than is there, read anew."""
    names = list(session.scalars(select(Enrolment.id)))
    known = onfile.files(session, names)
    with _remembering_nothing(session):
        anew = onfile.files(session, names)
    return [name for name in names if known[name] != anew[name]]


def misjudged(session: Session) -> list[str]:
    """Enrolments that readers remember to stand elsewhere than they do, worked out anew."""
    rows = list(session.scalars(select(Enrolment)).unique())
    today = max((row.enrolled_on for row in rows), default=date.min) + timedelta(days=60)
    known = standing.standings(session, rows, today)
    with _remembering_nothing(session):
        anew = standing.standings(session, rows, today)
    return [
        one.enrolment.id
        for one, other in zip(known, anew, strict=True)
        if _of(one) != _of(other)
    ]


@contextmanager
def _remembering_nothing(session: Session) -> Iterator[None]:
    kept = session.info.pop(MEMORY)
    try:
        yield
    finally:
        session.info[MEMORY] = kept


def _of(state: standing.Standing) -> tuple[object, ...]:
    """What pages show of a standing, worked out and so remembered."""
    return state.carried, state.watch, state.weak, state.chance, state.readiness(state.stage)


def look_closely(database: Database) -> None:
    """Assert that the whole database proves and that every needle follows from its records."""
    with database.read() as session:
        known = people.school(session)
        assert known is not None
        findings = proof.prove(session, known.vkey).findings
        assert misjudged(session) == []
    assert findings == [], [one.words for one in findings]
    assert astray(database) == []


def astray(database: Database) -> list[str]:
    """Enrolments whose kept beliefs differ from those read anew; nothing is kept of that."""
    with Session(database.engine) as session:
        before = _beliefs(session)
        needling.rebuild(session, needling.everybody(session))
        session.flush()
        after = _beliefs(session)
        session.rollback()
    return sorted(one for one in {*before, *after} if before.get(one) != after.get(one))


def _beliefs(session) -> dict[str, tuple]:
    columns = (NeedleState.enrolment_id, NeedleState.sequence, NeedleState.numbers)
    return {row[0]: (row[1], row[2]) for row in session.execute(select(*columns))}
