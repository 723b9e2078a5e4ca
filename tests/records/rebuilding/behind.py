"""What somebody who owns the database can do, and what all of its rows say then."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Select, insert, select, text

from gradebook.records import checkpoints, guards
from gradebook.records.commands import rebuilding
from gradebook.records.commands.rebuilding import Rebuilt, Trust
from gradebook.records.database import migrating
from gradebook.records.mirrors import PARTS
from gradebook.records.rebuilding import FIRST
from gradebook.records.store import people, proof, schoolkeys
from gradebook.records.store.proof import Proof
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import AuditNode
from tests.cast import TestSchool

Rows = dict[str, list[tuple[Any, ...]]]
TRAIL = (AuditEvent, AuditNode)
HANGING = {table.__tablename__ for table in PARTS}


def behind(school: TestSchool, *statements: Any) -> None:
    """Run statements with neither guards nor foreign keys in the way."""
    with migrating(school.database.engine) as connection, connection.begin():
        guards.remove(connection)
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET LOCAL session_replication_role = replica"))
        for statement in statements:
            connection.execute(text(statement) if isinstance(statement, str) else statement)
        guards.install(connection)


def forge(school: TestSchool, table: type[Table], **changes: object) -> None:
    """Put a copy of a row beside it, changed."""
    rows = table.__table__
    with school.database.read() as session:
        query: Select[Any] = select(rows).order_by(rows.c.id)
        if "state" in rows.c:
            query = query.where(rows.c.state == "signed")
        row = dict(session.execute(query).mappings().first() or {})
    behind(school, insert(rows).values({**row, "id": "forged", **changes}))  # type: ignore[arg-type]


def empty(school: TestSchool) -> None:
    """Take away every row that a statement made, and the needle."""
    rows = [f"DELETE FROM {table.__tablename__}" for table in (*PARTS, *FIRST)]
    signed = [
        f"{one} WHERE state <> 'draft'" if one.endswith("lesson_record") else one
        for one in rows
    ]
    behind(school, *signed, "DELETE FROM needle_state")


def trust(school: TestSchool) -> Trust:
    """What the school's reader trusts."""
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        places = checkpoints.folders(school.settings.data)
        kept = checkpoints.kept(places, schoolkeys.succession(session))
        return Trust(row.vkey, list(kept))


def proven(school: TestSchool) -> Proof:
    """What reading everything finds."""
    known = trust(school)
    with school.database.read() as session:
        return proof.prove(session, known.vkey, known.outside)


def rebuilt(school: TestSchool, *, dry: bool = False) -> Rebuilt:
    """The school, rebuilt."""
    return rebuilding.rebuild(school.database.engine, trust(school), school.clock.at, dry=dry)


def everything(school: TestSchool) -> Rows:
    """Every row of every table but the trail; what hangs on a record without its own id."""
    with school.database.engine.connect() as connection:
        return {
            table.name: _rows(connection, table)
            for table in Table.metadata.sorted_tables
            if table not in [one.__table__ for one in TRAIL]
        }


def _rows(connection: Connection, table: Any) -> list[tuple[Any, ...]]:
    names = [name for name in list(table.c.keys()) if name != "id" or table.name not in HANGING]
    found = connection.execute(select(table)).mappings()
    return sorted((tuple(row[name] for name in names) for row in found), key=repr)


def of_table(school: TestSchool, table: type[Table]) -> dict[str, Mapping[str, Any]]:
    """The rows of one table by id."""
    with school.database.read() as session:
        found = session.execute(select(table.__table__)).mappings()
        return {row["id"]: dict(row) for row in found}
