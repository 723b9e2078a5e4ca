"""The drill: the newest backup restored into a scratch place, examined, thrown away."""

import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from gradebook.ledger import keys
from gradebook.records.database import Database
from gradebook.records.faults import TornError
from gradebook.records.guards import GUARDS
from gradebook.records.jobs import Tell, silent
from gradebook.records.keeping import backup, copying, restore
from gradebook.records.keeping.noting import note
from gradebook.records.keeping.scratch import scratch_in
from gradebook.records.keeping.sealing import Identity
from gradebook.records.store import erasing, ledger, schoolkeys
from gradebook.records.tally import tally
from gradebook.settings import Settings


@dataclass(frozen=True, slots=True)
class Drill:
    """What a drill found: the backup's own worth, and rows that the school has lost since."""

    file: Path
    findings: restore.Findings
    gone: Sequence[str]
    parted: bool = False
    """Whether its ledger is not the beginning of the school's."""

    @property
    def code(self) -> int:
        """0 only when nothing is wrong."""
        if self.parted:
            return 3
        return self.findings.code or (2 if self.gone else 0)


def drill(
    settings: Settings,
    database: Database,
    folder: Path | None = None,
    identity: Identity | None = None,
    tell: Tell = silent,
) -> Drill:
    """Restore the newest backup of a folder (one is made when there is none) and examine it.

    BackupError when it cannot be restored at all, or no key signed it that this school had
    where the backup's ledger ends. Its entries must be the first ones of the school's ledger.
    """
    folder = folder or backup.folder_in(settings.data)
    found = backup.backups_in(folder)
    new = backup.Wanted(folder, tell=tell)
    file = found[-1] if found else backup.back_up(settings, database, new)
    with database.read() as session:
        line = schoolkeys.succession(session)
    if not line.keys:  # before there is a school
        line.begin(keys.public_of(settings.seed))
    with _place(settings, database, folder) as (data, url):
        wanted = restore.Wanted(file, data, url, identity=identity, line=line, tell=tell)
        findings = restore.restore(wanted, settings.now)
    done = Drill(file, findings, _gone(database, findings), _parted(database, findings))
    note(database, settings.now(), "system:drill", {"file": file.name, "result": done.code})
    return done


@contextmanager
def _place(settings: Settings, database: Database, folder: Path) -> Iterator[tuple[Path, str]]:
    with scratch_in(folder) as scratch:
        data = scratch / "place" / "school"  # the scratch folder itself is locked by us
        if database.engine.dialect.name == "sqlite":
            yield data, ""
            return
        name = f"windtee_drill_{uuid.uuid4().hex}"
        with copying.scratch_postgres(settings.owning, name) as url:
            yield data, url


def _gone(database: Database, findings: restore.Findings) -> list[str]:
    """Guarded tables of the school that hold fewer rows than the backup did, unless erased."""
    kept = {guard.table for guard in GUARDS} - {"lesson_record"}
    with database.engine.connect() as connection:
        now = tally(connection).rows
    with database.read() as session:
        erased = erasing.rows_erased(session, findings.signed)
    return [
        f"{name}: {rows} rows were backed up, the school now has {now.get(name, 0)}"
        for name, rows in findings.manifest.rows.items()
        if name in kept and now.get(name, 0) + erased.get(name, 0) < rows
    ]


def _parted(database: Database, findings: restore.Findings) -> bool:
    """Whether the ledgers differ as far as both go; a shorter one of the school is `gone`."""
    with database.read() as session:
        if not findings.root or ledger.size(session) < findings.signed:
            return False
        try:
            return ledger.ledger_nodes(session).root(findings.signed) != findings.root
        except TornError:
            return True
