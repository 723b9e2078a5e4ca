"""The guards as PostgreSQL triggers, enabled ALWAYS: replica mode does not switch them off.

Each has a function of its own with a fixed search path, so that no table of the session can
stand in for the one that is guarded.
"""

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection

from gradebook.records.guards.plan import Growth, Guard, Next, changed, deleted, words

PREFIX = "guard_"
ROW, BEFORE, INSERT, DELETE, UPDATE, TRUNCATE = 1, 2, 4, 8, 16, 32
"""The bits of `pg_trigger.tgtype`."""
BITS = {
    "insert": ROW | BEFORE | INSERT,
    "update": ROW | BEFORE | UPDATE,
    "delete": ROW | BEFORE | DELETE,
    "truncate": BEFORE | TRUNCATE,
}
FIND = """
SELECT t.tgname, c.relname, t.tgtype, t.tgenabled, t.tgqual IS NULL AND t.tgattr = '',
       p.proname, p.prosrc, coalesce(array_to_string(p.proconfig, ';'), '')
FROM pg_trigger t
JOIN pg_class c ON c.oid = t.tgrelid
JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace
"""
FUNCTIONS = """
SELECT proname FROM pg_proc
WHERE pronamespace = current_schema()::regnamespace AND starts_with(proname, 'guard_')
"""


def wanted(connection: Connection, guards: Mapping[Guard, Sequence[str]]) -> dict[str, str]:
    """Name to description of every trigger, for tables with these columns."""
    path = f"search_path={_search_path(connection)}"
    return {
        _name(guard, act): _description(
            (guard.table, BITS[act], "A", True, _name(guard, act), body, path)
        )
        for guard, columns in guards.items()
        for act, body in _bodies(guard, columns).items()
    }


def _name(guard: Guard, act: str) -> str:
    return f"{PREFIX}{guard.table}_{act}"


def _search_path(connection: Connection) -> str:
    schema = connection.exec_driver_sql("SELECT current_schema()").scalar_one()
    return f"pg_catalog, {schema}, pg_temp"


def _description(parts: Sequence[object]) -> str:
    return " | ".join(map(str, parts))


def _bodies(guard: Guard, columns: Sequence[str]) -> dict[str, str]:
    """Function body for each act that is refused."""
    frozen = [name for name in columns if name not in guard.may_change]
    differs = " OR ".join(
        f'NEW."{name}"::text IS DISTINCT FROM OLD."{name}"::text' for name in frozen
    )
    bodies = {
        "update": _body(guard, "update", changed(differs, guard), "NEW"),
        "delete": _body(guard, "delete", deleted(guard), "OLD"),
        "truncate": _body(guard, "truncate", "", "NULL"),
    }
    if guard.growth:
        misplaced = _misplaced(guard.table, guard.growth)
        bodies["insert"] = _body(guard, "insert", misplaced, "NEW")
    return bodies


def _body(guard: Guard, act: str, condition: str, row: str) -> str:
    refusal = (
        f"RAISE EXCEPTION '{words(act, guard.table)}'"
        " USING ERRCODE = 'integrity_constraint_violation';"
    )
    if condition:
        refusal = f"IF {condition} THEN {refusal} END IF;"
    return f"BEGIN {refusal} RETURN {row}; END"


def _misplaced(table: str, growth: Growth) -> str:
    """An insert that is not at the end."""
    column = f'NEW."{growth.column}"'
    newest = f'(SELECT coalesce(max("{growth.column}"), 0) FROM "{table}")'
    if growth.next is Next.DRAWN:
        sequence = f"pg_get_serial_sequence('{table}', '{growth.column}')"
        return f"{column} IS DISTINCT FROM currval({sequence})"
    if growth.next is Next.GROWS:
        return f"{column} <= {newest}"
    parts = [f"{column} IS DISTINCT FROM {newest} + 1"]
    if growth.link:
        link, linked = growth.link
        parts.append(
            f'NEW."{link}" IS DISTINCT FROM (SELECT "{linked}" FROM "{table}"'
            f' WHERE "{growth.column}" = {column} - 1)'
        )
    return " OR ".join(parts)


def there(connection: Connection) -> dict[str, str]:
    """Name to description of every trigger the database has."""
    return {row[0]: _description(row[1:]) for row in connection.exec_driver_sql(FIND)}


def create(connection: Connection, guards: Mapping[Guard, Sequence[str]]) -> None:
    """Create every function and its trigger."""
    path = _search_path(connection)
    for guard, columns in guards.items():
        for act, body in _bodies(guard, columns).items():
            name, each = _name(guard, act), "STATEMENT" if act == "truncate" else "ROW"
            for text in (
                f'CREATE FUNCTION "{name}"() RETURNS trigger LANGUAGE plpgsql'
                f" SET search_path = {path} AS $guard${body}$guard$",
                f'CREATE TRIGGER "{name}" BEFORE {act} ON "{guard.table}"'
                f' FOR EACH {each} EXECUTE FUNCTION "{name}"()',
                f'ALTER TABLE "{guard.table}" ENABLE ALWAYS TRIGGER "{name}"',
            ):
                connection.exec_driver_sql(text)


def drop(connection: Connection) -> None:
    """Drop every function of ours, and with it its trigger."""
    for name in connection.exec_driver_sql(FUNCTIONS).scalars().all():
        connection.exec_driver_sql(f'DROP FUNCTION "{name}"() CASCADE')
