"""What the application's role may do on PostgreSQL, where the schema belongs to another role.

It reads and adds everywhere, and changes or deletes only where `CHANGES` says so. It never
empties a table, and cannot alter one, nor its triggers.
"""

from collections.abc import Mapping

from sqlalchemy import Connection, inspect

CHANGES: Mapping[str, str] = {
    "school": "UPDATE",
    "person": "UPDATE",
    "role_grant": "UPDATE",
    "login_session": "UPDATE, DELETE",
    "login_attempt": "DELETE",
    "known_device": "UPDATE, DELETE",
    "second_factor": "UPDATE, DELETE",
    "recovery_code": "UPDATE, DELETE",
    "invitation": "UPDATE",
    "role_request": "UPDATE",
    "signing_key": "UPDATE",
    "delivery": "DELETE",
    "erasure_request": "UPDATE",
    "trusted_key": "UPDATE",
    "enrolment": "UPDATE",
    "teaching": "UPDATE",
    "stage_approval": "UPDATE",
    "lesson_record": "UPDATE, DELETE",
    "self_grade": "UPDATE",
    "needle_state": "UPDATE, DELETE",
    "job": "UPDATE, DELETE",
}
"""Tables whose rows the program changes or deletes; guards narrow it further, row by row."""

ADDED_ONLY = frozenset({"needle_fit", "needle_forecast"})
"""Tables without a guard whose rows the program only adds."""


def grant(connection: Connection, role: str) -> None:
    """Give the role exactly what it needs, inside the caller's transaction; the owner calls."""
    quote = connection.dialect.identifier_preparer.quote
    schema = connection.exec_driver_sql("SELECT current_schema()").scalar_one()
    to, place = quote(role), quote(schema)
    texts = [
        f"REVOKE ALL ON ALL TABLES IN SCHEMA {place} FROM {to}",
        f"REVOKE ALL ON ALL SEQUENCES IN SCHEMA {place} FROM {to}",
        f"REVOKE CREATE ON SCHEMA {place} FROM {to}",
        f"GRANT USAGE ON SCHEMA {place} TO {to}",
        f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {place} TO {to}",
    ]
    for table in inspect(connection).get_table_names():
        added = "" if table == "alembic_version" else ", INSERT"
        changed = f", {CHANGES[table]}" if table in CHANGES else ""
        texts.append(f"GRANT SELECT{added}{changed} ON {quote(table)} TO {to}")
    for text in texts:
        connection.exec_driver_sql(text)
