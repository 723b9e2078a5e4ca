"""Raw SQL against guarded tables: refused, with nothing changed, on both databases."""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import Engine, literal_column, select, table, text
from sqlalchemy.exc import DBAPIError, IntegrityError

from gradebook.records import guards
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from tests.cast import SECRET, TestSchool, close_school, open_school
from tests.postgres import Cluster
from tests.walks.test_main_job import sign_first_lesson

LAST = "(SELECT max(seq) FROM ledger_entry)"
FIRST_STATEMENT = "(SELECT statement_id FROM ledger_entry WHERE seq = 1)"
COPIED = "kind, statement, digest, entry, nodes, recorded_at"


def leaf(seq: str) -> str:
    return f"(SELECT leaf FROM ledger_entry WHERE seq = {seq})"


def entry(
    seq: str, prev: str, statement: str = "'new'", how: str = "INSERT", table: str = ""
) -> str:
    return (
        f"{how} INTO {table}ledger_entry (seq, statement_id, leaf, prev, {COPIED})"
        f" SELECT {seq}, {statement}, 'leaf', {prev}, {COPIED}"
        f" FROM {table}ledger_entry WHERE seq = 1"
    )


def audit(number: int, how: str = "INSERT") -> str:
    return (
        f"{how} INTO audit_event (id, at, action, facts)"
        f" VALUES ({number}, '2026-05-20 09:00:00', 'forged', '{{}}')"
    )


GRADE = (
    "{how} INTO grade ({extra}id, record_id, place, task, scale, level, target, together,"
    " remark)"
    " SELECT {value}{id}, record_id, place, task, scale, 'instruct', target, together, remark"
    " FROM grade LIMIT 1{end}"
)
SOME_GRADE = "(SELECT id FROM grade LIMIT 1)"

BOTH = {
    "change an entry": "UPDATE ledger_entry SET leaf = 'other' WHERE seq = 1",
    "renumber the entries": "UPDATE ledger_entry SET seq = seq + 1",
    "delete the first entry": "DELETE FROM ledger_entry WHERE seq = 1",
    "delete the last entry": f"DELETE FROM ledger_entry WHERE seq = {LAST}",
    "delete every entry": "DELETE FROM ledger_entry",
    "leave a gap": entry(f"{LAST} + 2", leaf(LAST)),
    "a negative number": entry("-1", "NULL"),
    "number nought": entry("0", "NULL"),
    "use a number again": entry("2", leaf("1")),
    "fork from an older entry": entry(f"{LAST} + 1", leaf("2")),
    "begin a second chain": entry(f"{LAST} + 1", "NULL"),
    "use a statement again": entry(f"{LAST} + 1", leaf(LAST), FIRST_STATEMENT),
    "change by insert": entry("1", "NULL") + " ON CONFLICT (seq) DO UPDATE SET leaf = 'other'",
    "change by a known statement": entry(f"{LAST} + 1", leaf(LAST), FIRST_STATEMENT)
    + " ON CONFLICT (statement_id) DO UPDATE SET leaf = 'other'",
    "change a checkpoint": "UPDATE ledger_checkpoint SET note = 'other'",
    "delete a checkpoint": "DELETE FROM ledger_checkpoint",
    "a checkpoint of an older size": "INSERT INTO ledger_checkpoint"
    " SELECT size - 1, note, issued_at FROM ledger_checkpoint",
    "change who acted": "UPDATE audit_event SET actor_id = NULL",
    "delete an act": "DELETE FROM audit_event WHERE id = 1",
    "delete every act": "DELETE FROM audit_event",
    "an act in an old place": audit(1),
    "an act before all": audit(-5),
    "an act far ahead": audit(1_000_000),
    "change a grade": "UPDATE grade SET level = 'perform'",
    "move a grade": "UPDATE grade SET task = 'hover' WHERE task = 'run-up'",
    "delete a grade": "DELETE FROM grade WHERE task = 'run-up'",
    "delete an error": "DELETE FROM error_mark",
    "change an error": "UPDATE error_mark SET severity = 'minor'",
    "change a reading": "UPDATE reading_taken SET value = '100'",
    "delete a reading": "DELETE FROM reading_taken",
    "change a signed outcome": "UPDATE lesson_record SET outcome = 'passed'",
    "change a signed day": "UPDATE lesson_record SET flown_on = '2026-01-01'",
    "change the signed text": "UPDATE ledger_entry SET statement = '{}'",
    "change the digest": "UPDATE lesson_record SET digest = 'other'",
    "change the card": "UPDATE lesson_record SET card = '{}'",
    "change who graded": "UPDATE lesson_record SET instructor_id = enrolment_id",
    "unsign a record": "UPDATE lesson_record"
    " SET state = 'draft', digest = NULL, sequence = NULL",
    "withdraw an acknowledgement": "UPDATE lesson_record SET state = 'signed',"
    " acknowledged_at = NULL, agrees = NULL WHERE state = 'acknowledged'",
    "turn a disagreement": "UPDATE lesson_record SET agrees = NOT agrees",
    "delete a signed record": "DELETE FROM lesson_record",
    "change a course": "UPDATE revision SET files = '{}'",
    "change a held role": "UPDATE role_grant SET role = 'chief instructor'",
    "delete a role": "DELETE FROM role_grant",
}
SQLITE = {
    "replace an entry": entry("2", leaf("1"), how="INSERT OR REPLACE"),
    "replace the last entry": entry(LAST, leaf(f"{LAST} - 1"), how="REPLACE"),
    "replace by statement": entry(f"{LAST} + 1", leaf(LAST), FIRST_STATEMENT, how="REPLACE"),
    "replace an act": audit(1, "REPLACE"),
    "replace a grade": GRADE.format(how="REPLACE", extra="", value="", id="id", end=""),
    "replace a grade by its hidden number": GRADE.format(
        how="REPLACE", extra="rowid, ", value="rowid, ", id="'other'", end=""
    ),
    "update or replace": "UPDATE OR REPLACE ledger_entry SET seq = 1 WHERE seq = 2",
    "replace a checkpoint": "REPLACE INTO ledger_checkpoint"
    " SELECT size, 'other', issued_at FROM ledger_checkpoint",
    "drop a guard": "DROP TRIGGER guard_ledger_entry_update",
    "drop a table": "DROP TABLE ledger_entry",
    "rename a table": "ALTER TABLE ledger_entry RENAME TO other",
    "write the schema": "PRAGMA writable_schema = ON",
    "let replace delete": "PRAGMA recursive_triggers = OFF",
    "a trigger that swallows": "CREATE TRIGGER quiet BEFORE INSERT ON audit_event"
    " BEGIN SELECT RAISE(IGNORE); END",
    "a passing trigger that swallows": "CREATE TEMP TRIGGER quiet BEFORE INSERT ON audit_event"
    " BEGIN SELECT RAISE(IGNORE); END",
    "a stand-in table": "CREATE TEMP TABLE ledger_entry (seq, leaf)",
    "another database": "ATTACH ':memory:' AS other",
}
POSTGRES = {
    "empty the ledger": "TRUNCATE ledger_entry CASCADE",
    "empty the trail": "TRUNCATE audit_event CASCADE",
    "empty the grades": "TRUNCATE grade",
    "empty everything below": "TRUNCATE lesson_record CASCADE",
    "as a replica": "SET LOCAL session_replication_role = replica; DELETE FROM ledger_entry",
    "as a replica, change": "SET LOCAL session_replication_role = replica;"
    " UPDATE grade SET level = 'perform'",
    "behind a stand-in table": "CREATE TEMP TABLE ledger_entry AS"
    " SELECT 800 AS seq, 'x' AS leaf; " + entry("801", "'x'", table="public."),
    "merge": "MERGE INTO ledger_entry AS t USING (SELECT 1 AS seq) AS s ON t.seq = s.seq"
    " WHEN MATCHED THEN DELETE",
}
REPLACES = [name for name in SQLITE if name.startswith("replace")]


@dataclass
class Kept:
    """A school with one acknowledged and one signed record, and a ledger."""

    school: TestSchool
    engine: Engine

    def everything(self) -> dict[str, list[tuple[object, ...]]]:
        """Every row of every guarded table."""
        with self.engine.connect() as connection:
            return {
                guard.table: [
                    tuple(row)
                    for row in connection.execute(
                        select(literal_column("*")).select_from(table(guard.table))
                    )
                ]
                for guard in guards.GUARDS
            }


@pytest.fixture(scope="module")
def on_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    yield from filled(tmp_path_factory.mktemp("guarded"), None)


@pytest.fixture(scope="module")
def on_postgres(
    tmp_path_factory: pytest.TempPathFactory, postgres_cluster: Cluster
) -> Iterator[Kept]:
    with postgres_cluster.fresh_database() as url:
        yield from filled(tmp_path_factory.mktemp("guarded"), url)


@pytest.fixture(params=["on_sqlite", "on_postgres"])
def kept(request: pytest.FixtureRequest) -> Kept:
    found: Kept = request.getfixturevalue(request.param)
    return found


def filled(folder: Path, url: str | None) -> Iterator[Kept]:
    school = open_school(folder, url)
    record = sign_first_lesson(school)
    school.visitor("ana").send(
        f"/records/{record}/acknowledge",
        {"answer": "disagree", "comment": "Windy.", "secret": SECRET},
    )
    yield Kept(school, school.database.engine)
    close_school(school)


def run(engine: Engine, statements: str) -> None:
    with engine.begin() as connection:
        for statement in statements.split("; "):
            connection.exec_driver_sql(statement)


REFUSED = r"guard: |not authorized|_statement_id|_id_seq\" is not yet defined in this session"
"""The last is what a guard of PostgreSQL meets in a session that has drawn no number yet."""


def check_refused(kept: Kept, statement: str) -> None:
    before = kept.everything()
    with pytest.raises(DBAPIError, match=REFUSED):
        run(kept.engine, statement)
    assert kept.everything() == before


@pytest.mark.parametrize("name", BOTH)
def test_raw_sql_is_refused(kept: Kept, name: str) -> None:
    check_refused(kept, BOTH[name])


@pytest.mark.parametrize("name", SQLITE)
def test_raw_sql_of_sqlite_is_refused(on_sqlite: Kept, name: str) -> None:
    check_refused(on_sqlite, SQLITE[name])


@pytest.mark.parametrize("name", POSTGRES)
def test_raw_sql_of_postgresql_is_refused_to_its_superuser(
    on_postgres: Kept, name: str
) -> None:
    check_refused(on_postgres, POSTGRES[name])


@pytest.mark.parametrize("name", [*REPLACES, *BOTH])
def test_another_program_that_opens_the_file_is_refused(on_sqlite: Kept, name: str) -> None:
    before = on_sqlite.everything()
    other = sqlite3.connect(str(on_sqlite.engine.url.database))
    assert other.execute("PRAGMA recursive_triggers").fetchone() == (0,)
    with pytest.raises(sqlite3.IntegrityError, match="guard: "), other:
        other.execute((BOTH | SQLITE)[name])
    other.close()
    assert on_sqlite.everything() == before


def test_the_next_entry_act_and_checkpoint_go_through(kept: Kept) -> None:
    connection = kept.engine.connect()
    transaction = connection.begin()
    before = connection.execute(text(f"SELECT {LAST}")).scalar_one()
    connection.execute(text(entry(f"{LAST} + 1", leaf(LAST))))
    connection.execute(text(entry(f"{LAST} + 1", leaf(LAST), "'newer'")))
    later = "SELECT size + 5, note, issued_at FROM ledger_checkpoint"
    connection.execute(text(f"INSERT INTO ledger_checkpoint {later}"))
    assert connection.execute(text(f"SELECT {LAST}")).scalar() == before + 2
    transaction.rollback()
    connection.close()


def test_several_acts_in_one_transaction_go_through(kept: Kept) -> None:
    at = kept.school.clock.at
    with kept.school.database.write() as session:
        newest = session.execute(text("SELECT max(id) FROM audit_event")).scalar_one()
        acts = [AuditEvent(at=at, action="tested", facts={"n": n}) for n in range(3)]
        session.add_all(acts)
        session.flush()
        assert [act.id - newest for act in acts] == [1, 2, 3]
        session.add(AuditEvent(at=at, action="tested", facts={}))
        session.flush()
        session.rollback()


def test_a_draft_may_be_changed_and_thrown_away(either_school: TestSchool) -> None:
    ben = either_school.visitor("ben")
    answer = ben.send(f"/students/{either_school.enrolment}/lessons", {"lesson": "s-01"})
    with either_school.database.engine.begin() as connection:
        connection.execute(text("UPDATE lesson_record SET remarks = 'calm'"))
        connection.execute(text("DELETE FROM lesson_record"))
        left = connection.execute(text("SELECT count(*) FROM lesson_record")).scalar()
    assert answer.status_code == 200
    assert left == 0


def test_a_refusal_says_which_guard_refused(kept: Kept) -> None:
    with (
        pytest.raises(IntegrityError, match="guard: rows of grade are not changed"),
        kept.engine.begin() as connection,
    ):
        connection.execute(text("UPDATE grade SET level = 'perform'"))


def test_every_unique_column_of_a_guarded_table_is_a_key_of_its_guard() -> None:
    for guard in guards.GUARDS:
        table = Table.metadata.tables.get(guard.table)
        assert table is not None
        unique = {column.name for column in table.columns if column.unique}
        assert unique | {column.name for column in table.primary_key} == set(guard.keys)
        assert set(guard.may_change) <= set(table.columns.keys())
