"""What the database is asked while somebody looks at a page."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Engine, event


@contextmanager
def asked(engine: Engine) -> Iterator[list[str]]:
    """The statements sent to a database while the block runs.

    What begins and ends a transaction, and what only sets up a connection, is left out.
    """
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        if not statement.lstrip().upper().startswith(("BEGIN", "PRAGMA", "SET ")):
            sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(engine, "before_cursor_execute", note)
