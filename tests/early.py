"""A school as it was kept before the ledger: a present one taken back to an older schema."""

import hashlib
import json
import shutil
from pathlib import Path

from sqlalchemy import Connection, Engine, text

from gradebook.records import checkpoints, guards, schema
from gradebook.records.database import migrating

SIGNED = text("SELECT id, lesson FROM lesson_record WHERE state <> 'draft' ORDER BY sequence")
KEEP = text("INSERT INTO early_statement VALUES (:sequence, :record, :statement, :digest)")
PLACE = text(
    "UPDATE lesson_record SET sequence = :sequence, digest = :digest WHERE id = :record"
)


def go_back(engine: Engine, revision: str, data: Path) -> int:
    """Give each signed record its text of old and forget the ledger; how many there are.

    What the folder `data` holds of the ledger's checkpoints goes too.
    """
    shutil.rmtree(data / checkpoints.FOLDER, ignore_errors=True)
    with migrating(engine) as connection, connection.begin():
        guards.remove(connection)
        rows = connection.execute(SIGNED).all()
        for sequence, row in enumerate(rows, start=1):
            said = json.dumps({"record": row.id, "lesson": row.lesson, "sequence": sequence})
            _sign_as_of_old(connection, sequence, row.id, said)
    schema.downgrade(engine, revision)
    return len(rows)


def _sign_as_of_old(connection: Connection, sequence: int, record: str, said: str) -> None:
    digest = hashlib.sha256(said.encode()).hexdigest()
    facts = {"sequence": sequence, "record": record, "statement": said, "digest": digest}
    connection.execute(KEEP, facts)
    connection.execute(PLACE, facts)
