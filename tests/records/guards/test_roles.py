"""The application as a PostgreSQL role that does not own the schema: all work, no tampering."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from gradebook.cli import main
from gradebook.records import guards, schema
from gradebook.records.database import open_engine
from gradebook.records.guards.roles import ADDED_ONLY, CHANGES
from gradebook.records.keeping import backup, drill, restore
from gradebook.records.keeping.upgrading import migrate
from gradebook.records.tables import Table
from tests.cast import SECRET, TestSchool, close_school, open_school
from tests.postgres import Cluster
from tests.walks.test_main_job import FILLED, lesson_form, sign_first_lesson


@dataclass
class Roles:
    """A database of one role, in which another works."""

    owner: str
    application: str

    @property
    def name(self) -> str:
        return self.application.split("//")[1].split("@")[0]


def divided(cluster: Cluster, url: str) -> Roles:
    """Two plain roles of this database's own name."""
    name = url.rsplit("/", 1)[1]
    cluster.execute(f"CREATE ROLE owner_{name} LOGIN CREATEDB")
    cluster.execute(f"CREATE ROLE app_{name} LOGIN")
    cluster.execute(f"ALTER DATABASE {name} OWNER TO owner_{name}")
    return Roles(
        url.replace("postgres@", f"owner_{name}@"), url.replace("postgres@", f"app_{name}@")
    )


@pytest.fixture
def roles(postgres_cluster: Cluster, fresh_postgres: str) -> Roles:
    return divided(postgres_cluster, fresh_postgres)


@pytest.fixture
def divided_school(roles: Roles, tmp_path: Path) -> Iterator[TestSchool]:
    opened = open_school(tmp_path, roles.application, owner=roles.owner)
    yield opened
    close_school(opened)


@pytest.fixture(scope="module")
def shared(
    postgres_cluster: Cluster, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[TestSchool]:
    """One school for everything that is refused and so changes nothing."""
    with postgres_cluster.fresh_database() as url:
        roles = divided(postgres_cluster, url)
        opened = open_school(
            tmp_path_factory.mktemp("divided"), roles.application, owner=roles.owner
        )
        sign_first_lesson(opened)
        yield opened
        close_school(opened)


def test_the_main_job_is_done_by_a_role_that_owns_nothing(divided_school: TestSchool) -> None:
    school = divided_school
    record = sign_first_lesson(school)
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    ana.post(f"/records/{record}/acknowledge", answer="agree", comment="", secret=SECRET)
    ben = school.visitor("ben")
    ben.get(f"/records/{record}/amend")
    card = ben.send(f"/records/{record}/amend", {"reason": "Hover was better."})
    draft = card.request.path.rsplit("/", 1)[1]
    sent = {**FILLED, **lesson_form(card.text), "level-hover": "practice"}
    ben.send(f"/lessons/{draft}", sent)
    review = ben.get(f"/lessons/{draft}/review")
    page = ben.send(f"/lessons/{draft}/sign", {**lesson_form(review), "secret": SECRET}).text
    assert "Hover was better." in page
    assert "Amended" in ben.get(f"/records/{record}")
    ben.post("/sign-out")
    assert "Everything is as it was signed" in school.visitor("gus").get("/audit?prove=1")


DENIED = [
    "UPDATE audit_event SET actor_id = NULL",
    "DELETE FROM audit_event",
    "TRUNCATE audit_event",
    "TRUNCATE lesson_record CASCADE",
    "UPDATE grade SET level = 'perform'",
    "DELETE FROM grade",
    "DELETE FROM error_mark",
    "UPDATE reading_taken SET value = '1'",
    "UPDATE filed_event SET passed = true",
    "DELETE FROM close_decision",
    "UPDATE revision SET files = '{}'",
    "DELETE FROM role_grant",
    "DELETE FROM person",
    "UPDATE needle_forecast SET chance = 1",
    "UPDATE alembic_version SET version_num = 'other'",
    "DELETE FROM alembic_version",
    "SET session_replication_role = replica",
    "ALTER TABLE grade DISABLE TRIGGER ALL",
    "ALTER TABLE grade DISABLE TRIGGER guard_grade_update",
    "ALTER TABLE grade RENAME TO other",
    "ALTER TABLE audit_event ALTER COLUMN id DROP DEFAULT",
    "DROP TRIGGER guard_grade_update ON grade",
    "DROP TABLE grade CASCADE",
    "DROP FUNCTION guard_grade_update() CASCADE",
    "CREATE OR REPLACE FUNCTION guard_grade_update() RETURNS trigger"
    " LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
    "CREATE TRIGGER quiet BEFORE INSERT ON audit_event"
    " FOR EACH ROW EXECUTE FUNCTION suppress_redundant_updates_trigger()",
    "CREATE RULE quiet AS ON INSERT TO audit_event DO INSTEAD NOTHING",
    "CREATE TABLE other (id integer)",
    "SELECT setval('audit_event_id_seq', 1)",
    "ALTER SEQUENCE audit_event_id_seq RESTART",
    "DROP SCHEMA public CASCADE",
]


@pytest.mark.parametrize("statement", DENIED)
def test_tampering_is_denied_before_any_guard_is_asked(
    shared: TestSchool, statement: str
) -> None:
    with (
        pytest.raises(DBAPIError, match=r"permission denied|must be owner"),
        shared.database.engine.begin() as connection,
    ):
        connection.execute(text(statement))


def test_a_signed_record_is_guarded_from_a_role_that_may_change_drafts(
    shared: TestSchool,
) -> None:
    for statement in ("UPDATE lesson_record SET remarks = 'x'", "DELETE FROM lesson_record"):
        with (
            pytest.raises(DBAPIError, match="guard: rows of lesson_record"),
            shared.database.engine.begin() as connection,
        ):
            connection.execute(text(statement))


def rights(engine: Engine, role: str) -> dict[str, set[str]]:
    query = text(
        "SELECT table_name, privilege_type FROM information_schema.role_table_grants"
        " WHERE grantee = :role"
    )
    found: dict[str, set[str]] = {}
    with engine.connect() as connection:
        for name, right in connection.execute(query, {"role": role}):
            found.setdefault(name, set()).add(right)
    return found


def test_the_role_has_exactly_the_rights_that_are_listed(
    divided_school: TestSchool, roles: Roles
) -> None:
    owner = open_engine(roles.owner)
    with owner.begin() as connection:
        connection.execute(text(f"GRANT ALL ON ALL TABLES IN SCHEMA public TO {roles.name}"))
    migrate(divided_school.settings)
    wanted = {
        name: {"SELECT", "INSERT", *filter(None, CHANGES.get(name, "").split(", "))}
        for name in inspect(owner).get_table_names()
    }
    wanted["alembic_version"] = {"SELECT"}
    assert rights(owner, roles.name) == wanted
    owner.dispose()


def test_every_table_has_a_rule() -> None:
    guarded = {guard.table for guard in guards.GUARDS}
    assert set(Table.metadata.tables) - guarded - set(CHANGES) - ADDED_ONLY == set()
    assert (set(CHANGES) | ADDED_ONLY) - set(Table.metadata.tables) == set()


def test_a_role_that_cannot_migrate_is_told_to_upgrade(
    divided_school: TestSchool,
    roles: Roles,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    data = str(divided_school.settings.data)
    owner = open_engine(roles.owner)
    schema.downgrade(owner, "20261125_begin")
    owner.dispose()
    monkeypatch.setenv("WINDTEE_DATABASE", roles.application)
    assert main(["serve", "--data", data]) == 1
    assert "run windtee upgrade" in capsys.readouterr().err
    assert main(["upgrade", "--data", data]) == 1
    assert "name its owner in WINDTEE_DATABASE_OWNER" in capsys.readouterr().err
    monkeypatch.setenv("WINDTEE_DATABASE_OWNER", roles.owner)
    assert main(["upgrade", "--data", data]) == 0
    schema.check(divided_school.database.engine)
    sign_first_lesson(divided_school)


def test_backup_drill_and_restore_keep_the_roles_apart(
    divided_school: TestSchool, postgres_cluster: Cluster, tmp_path: Path, roles: Roles
) -> None:
    school = divided_school
    sign_first_lesson(school)
    assert drill.drill(school.settings, school.database).code == 0
    file = backup.backups_in(backup.folder_in(school.settings.data))[0]
    with postgres_cluster.fresh_database() as url:
        name, own = url.rsplit("/", 1)[1], roles.owner.split("//")[1].split("@")[0]
        postgres_cluster.execute(f"ALTER DATABASE {name} OWNER TO {own}")
        place = roles.owner.rsplit("/", 1)[0] + f"/{name}"
        wanted = restore.Wanted(file, tmp_path / "new", place, role=roles.name)
        assert restore.restore(wanted, school.clock).code == 0
        engine = open_engine(roles.application.rsplit("/", 1)[0] + f"/{name}")
        schema.check(engine)
        with pytest.raises(DBAPIError, match="permission denied"), engine.begin() as connection:
            connection.execute(text("DELETE FROM grade"))
        engine.dispose()
