"""Rebuilding what screens read from the ledger: rows are put back as they were signed.

All of it in one transaction, with the guards away meanwhile. Drafts, accounts, sessions and
what students think of themselves are no projection of the ledger: none of it is touched.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import Connection, Engine, func, select
from sqlalchemy.orm import Session

from gradebook.ledger.notes import Checkpoint
from gradebook.records import guards
from gradebook.records.acts import REBUILT
from gradebook.records.commands import mending, needling
from gradebook.records.commands.mending import Removed
from gradebook.records.database import WRITER, migrating
from gradebook.records.jobs import Tell, silent
from gradebook.records.mirrors import MADE
from gradebook.records.projection import Projection
from gradebook.records.store import auditing, proof
from gradebook.records.store.projected import Difference
from gradebook.records.store.proof import Proof
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment


@dataclass(slots=True)
class Rebuilt:
    """What was found and done.

    With findings in `proof` the ledger itself does not hold, and nothing was done. `left` are
    rows that no statement made but to which others refer.
    """

    proof: Proof
    put_back: list[Difference] = field(default_factory=list)
    removed: list[Removed] = field(default_factory=list)
    left: list[Removed] = field(default_factory=list)

    @property
    def right(self) -> int:
        """Rows that were as the statements say."""
        return self.proof.rows - len(self.put_back)


@dataclass(frozen=True, slots=True)
class Trust:
    """The school's verifier key, and checkpoints that were kept elsewhere."""

    vkey: str
    outside: Sequence[Checkpoint] = ()


def rebuild(
    engine: Engine, trust: Trust, at: datetime, *, dry: bool = False, tell: Tell = silent
) -> Rebuilt:
    """Make every projected row say what its statements say; `dry` only tells what differs.

    The engine's role owns the schema. LackingError, and nothing is changed, when an account or
    a revision that the ledger names is not there.
    """
    with migrating(engine, bound=True) as connection, connection.begin() as transaction:
        _wait_for_writers(connection)
        session = Session(connection, expire_on_commit=False)
        read, projection, found = proof.read_through(session, trust.vkey, trust.outside, tell)
        done = Rebuilt(read)
        forged = [one for one in found if one.seq is None]
        done.removed = [mending.as_it_is(session, one) for one in forged]
        done.put_back = _joined(found)
        if dry or done.proof.findings:
            transaction.rollback()
            return done
        guards.remove(connection)
        _mend(session, projection, done, tell)
        guards.install(connection)
        _note(session, at, done)
        session.flush()
    return done


def _wait_for_writers(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(WRITER)))


def _joined(found: Iterable[Difference]) -> list[Difference]:
    """Each row to be put back once, with all its columns; tables and entries in order."""
    by_row: dict[tuple[type[Table], str], Difference] = {}
    for one in found:
        if one.seq is None:
            continue
        before = by_row.get((one.table, one.name))
        columns = {**(before.columns if before else {}), **one.columns}
        by_row[one.table, one.name] = Difference(one.table, one.name, one.seq, columns)
    order = [inverse.table for inverse in MADE.values()]
    return sorted(by_row.values(), key=lambda one: (order.index(one.table), one.seq))


def _mend(session: Session, projection: Projection, done: Rebuilt, tell: Tell) -> None:
    """Take away what nobody signed, put back what was signed, bring the needle up to that.

    Rows that nobody signed go before, since they may stand where another belongs, and again
    after, since rows that were altered may have referred to them.
    """
    rows: list[Difference | Removed] = [*done.put_back, *done.removed]
    names = [one.name for one in rows if one.table is LessonRecord]
    touched, forged = _enrolments_of(session, names), done.removed
    done.left = mending.remove(session, forged)
    mending.make_room(session, done.put_back)
    hung = [
        one for wrong in done.put_back for one in mending.put_back(session, projection, wrong)
    ]
    done.left = mending.remove(session, done.left)
    done.removed = [one for one in forged if one not in done.left] + hung
    session.expire_all()
    _needle(session, touched | _enrolments_of(session, names), tell)


def _enrolments_of(session: Session, records: Sequence[str]) -> set[str]:
    """The enrolments that hold these records, as things stand."""
    query = select(LessonRecord.enrolment_id).where(LessonRecord.id.in_(records))
    return set(session.scalars(query))


def _needle(session: Session, touched: set[str], tell: Tell) -> None:
    """Work out anew what is believed of these students."""
    if not touched:
        return
    query = select(Enrolment).where(Enrolment.id.in_(touched)).order_by(Enrolment.id)
    needling.rebuild(session, list(session.scalars(query).unique()), tell)


def _note(session: Session, at: datetime, done: Rebuilt) -> None:
    """Put in the trail what was done, and whole what was taken away."""
    for one in done.removed:
        facts = {"table": one.table.__tablename__, "removed": one.row}
        event = AuditEvent(at=at, action=REBUILT, object_id=one.name, facts=facts)
        auditing.add(session, event)
    counts = Counter(one.table.__tablename__ for one in done.put_back)
    facts = {
        "right": done.right,
        "put_back": dict(counts),
        "removed": len(done.removed),
        "left": len(done.left),
    }
    auditing.add(session, AuditEvent(at=at, action=REBUILT, facts=facts))
