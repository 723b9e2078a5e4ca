"""`windtee rebuild`: the rows that screens read, put back as the ledger has them."""

import argparse
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from gradebook.cli.console import headway, say, warn
from gradebook.cli.options import with_data
from gradebook.cli.proving import MOST_FINDINGS, VERDICTS, outside_of, school_in
from gradebook.ledger.chain import ALTERED, MALFORMED, UNKNOWN_KEY
from gradebook.ledger.notes import NoteError
from gradebook.records.commands import rebuilding
from gradebook.records.commands.mending import LackingError, Removed
from gradebook.records.commands.rebuilding import Rebuilt, Trust
from gradebook.records.database import open_engine
from gradebook.records.keeping.upgrading import refusal
from gradebook.records.schema import SchemaError
from gradebook.records.store import schoolkeys
from gradebook.records.store.projected import Difference
from gradebook.settings import Settings, settings_in


def rebuild_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--checkpoint", type=Path, help="a checkpoint kept elsewhere")
    command.add_argument("--dry-run", action="store_true", help="only tell what differs")
    command.set_defaults(run=rebuild)


def rebuild(chosen: argparse.Namespace) -> int:
    """Put back what differs from the ledger, remove what nobody signed, and count.

    0 when every row is right now; the verdict on the ledger when that does not hold itself,
    and nothing is done; 2 when something is not right, or with --dry-run was not.
    """
    settings = settings_in(chosen.data)
    with school_in(settings) as (here, school):
        if school is None or not school.vkey:
            warn("There is no school with a ledger here.")
            return MALFORMED
        with here.read() as session:
            line = schoolkeys.succession(session)
    try:
        trust = Trust(school.vkey, outside_of(chosen, settings, line))
        done = _rebuilt(settings, trust, dry=chosen.dry_run)
    except (NoteError, OSError, UnicodeDecodeError) as fault:
        warn(f"The checkpoint cannot be used: {fault}.")
        return UNKNOWN_KEY
    except (LackingError, SchemaError) as fault:
        warn(str(fault))
        return 1
    return _report(done, dry=chosen.dry_run)


def _rebuilt(settings: Settings, trust: Trust, *, dry: bool) -> Rebuilt:
    engine = open_engine(settings.owning)
    try:
        with headway() as tell:
            return rebuilding.rebuild(engine, trust, settings.now(), dry=dry, tell=tell)
    except DBAPIError as fault:
        raise refusal(fault, engine.url.username) from fault
    finally:
        engine.dispose()


def _report(done: Rebuilt, *, dry: bool) -> int:
    if done.proof.findings:
        _some(finding.words for finding in done.proof.findings)
        say(VERDICTS[done.proof.code], "The ledger itself does not hold: nothing was done.")
        return done.proof.code
    _some(_told(one) for one in done.put_back)
    _some(f"{one.table.__tablename__} {one.name}: nobody signed it." for one in done.removed)
    _some(
        f"{one.table.__tablename__} {one.name}: nobody signed it, but others refer to it."
        for one in done.left
    )
    would = "to be " if dry else ""
    say(
        f"{done.right} rows are right, {would}put back: {_counted(done.put_back)}, "
        f"{would}removed: {_counted(done.removed)}, left: {len(done.left)}."
    )
    wrong = done.left or (dry and (done.put_back or done.removed))
    return ALTERED if wrong else 0


def _told(one: Difference) -> str:
    what = f"differed in {', '.join(one.columns)}" if one.columns else "was missing"
    return f"Entry {one.seq}: {one.table.__tablename__} {one.name} {what}."


def _counted(rows: Iterable[Difference | Removed]) -> str:
    counts = Counter(one.table.__tablename__ for one in rows)
    named = ", ".join(f"{name} {number}" for name, number in sorted(counts.items()))
    return f"{counts.total()} ({named})" if named else "0"


def _some(lines: Iterable[str]) -> None:
    """The first of these lines, and how many more there are."""
    told = list(lines)
    warn(*told[:MOST_FINDINGS])
    if len(told) > MOST_FINDINGS:
        warn(f"... and {len(told) - MOST_FINDINGS} more.")
