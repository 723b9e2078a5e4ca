"""One process that signs drafts and says so after each: what a power cut or a full disk hits.

`python -m tests.faults.writer URL SYNCHRONOUS KILOBYTES`; each line on standard input is
a record and its version. Each signature is answered by a line `signed RECORD SEQ DIGEST` or
`refused RECORD KIND`, written in one go. The write-ahead log is moved into the file often.
KILOBYTES (0: no limit) is how large a file may become, so that a write fails half way.
"""

import os
import resource
import signal
import sys

from sqlalchemy import event
from sqlalchemy.exc import DBAPIError

from gradebook.records.act import Act
from gradebook.records.commands import keyring, signing
from gradebook.records.database import Database, open_engine
from gradebook.records.faults import RecordsError
from gradebook.records.pen import Pen, Signer, house_of
from gradebook.records.store import people
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, SEED
from tests.faults.drillschool import ticking

STDOUT = 1
OFTEN = 200
"""Pages in the log after which it is moved: some ten signatures."""


def open_database(url: str, synchronous: str) -> Database:
    """The school's database; `synchronous` other than FULL is a planted mistake."""

    def change(connection, _record) -> None:
        connection.execute(f"PRAGMA wal_autocheckpoint={OFTEN}")
        if synchronous != "FULL":
            connection.set_authorizer(None)
            connection.execute(f"PRAGMA synchronous={synchronous}")

    engine = open_engine(url)
    if url.startswith("sqlite"):
        event.listen(engine, "connect", change)
    return Database(engine)


def limit(kilobytes: int) -> None:
    """No file of this process grows beyond this: a write that would is an error."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))


class Writer:
    """Whoever teaches signs with a key opened once."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.keys: dict[str, keyring.Unlocked] = {}

    def sign(self, record: str, version: int) -> str:
        """One signature in one transaction; the line that acknowledges it."""
        try:
            with self.database.write() as session:
                row = session.get(LessonRecord, record)
                assert row is not None
                act = self._act(session, row.instructor_id)
                made = signing.sign_record(act, signing.SignRecord(record, version))
        except (RecordsError, DBAPIError) as fault:
            return f"refused {record} {type(fault).__name__}"
        return f"signed {record} {made.sequence} {made.digest}"

    def _act(self, session, person_id: str) -> Act:
        if person_id not in self.keys:
            opened = keyring.unlock(session, person_id, SECRET)
            assert opened is not None
            self.keys[person_id] = opened
        key = self.keys[person_id]
        actor = people.actor_of(people.person(session, person_id))
        pen = Pen(house_of(SEED), Signer(key.kid, key.seed, "secret"))
        return Act(session, actor, ticking(), "Europe/Lisbon", pen)


def say(line: str) -> None:
    """One line in one write: the acknowledgement that leaves the machine."""
    os.write(STDOUT, f"{line}\n".encode())


def main(url: str, synchronous: str = "FULL", kilobytes: str = "0") -> None:
    """Sign what is asked for until the input ends."""
    writer = Writer(open_database(url, synchronous))
    say("ready")
    if int(kilobytes):
        limit(int(kilobytes))
    for line in sys.stdin:
        record, version = line.split()
        say(writer.sign(record, int(version)))


if __name__ == "__main__":
    main(*sys.argv[1:])
