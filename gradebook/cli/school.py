"""`windtee setup`, `upgrade`, `verify`: a school and its database."""

import argparse
import getpass
import sys
import zoneinfo

from gradebook.cli.console import say, warn
from gradebook.cli.opened import opened
from gradebook.records import schema, secrets
from gradebook.records.commands import people as accounts
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.keeping.upgrading import bring_up, migrate
from gradebook.records.permissions import Role
from gradebook.records.statement import prove_chain
from gradebook.records.store import people, trail
from gradebook.records.tables.people import School
from gradebook.settings import settings_in


def setup(chosen: argparse.Namespace) -> int:
    """Make the school and its first administrator; the secret is asked for, never printed."""
    if chosen.zone not in zoneinfo.available_timezones():
        warn(f"{chosen.zone} is not a time zone, such as Europe/Lisbon.")
        return 2
    typed = _ask_secret()
    if problems := secrets.check_secret(typed, chosen.admin_name, "secret"):
        warn(*(problem.words for problem in problems))
        return 2
    settings = settings_in(chosen.data)
    first = accounts.AddPerson(
        chosen.admin_name, chosen.admin_email, "", [Role.ADMINISTRATOR], typed
    )
    migrate(settings)
    with opened(settings) as database, database.write() as session:
        if people.school(session) is not None:
            warn("This school has already been set up.")
            return 1
        row = School(name=chosen.name, zone=chosen.zone, created_at=settings.now())
        session.add(row)
        accounts.new_person(session, first, settings.now(), settings.hash_cost)
    say(f"{chosen.name} is set up. Publish a course, then: windtee serve --data {chosen.data}")
    return 0


def _ask_secret() -> str:
    """The secret typed without echo, or the first line of what is piped in."""
    if sys.stdin.isatty():
        return getpass.getpass("Secret of the administrator (at least 15 characters): ")
    return sys.stdin.readline().rstrip("\n")


def upgrade(chosen: argparse.Namespace) -> int:
    """Migrate the database to the newest schema, with a backup first; 1 and why not."""
    settings = settings_in(chosen.data)
    try:
        with opened(settings) as database:
            done = bring_up(settings, database, safe=not chosen.no_backup)
    except (BackupError, schema.SchemaError) as refusal:
        warn(str(refusal))
        return 1
    if done.file:
        say(f"Backed up first: {done.file}")
    before, after = done.counted.before.rows, done.counted.after.rows
    for name in after:
        say(f"  {name:<24} {before.get(name, 0):>9} -> {after[name]:>9} rows")
    say(f"Schema {done.since or 'empty'} -> {schema.newest()}; every guard in place.")
    return 0


def verify(chosen: argparse.Namespace) -> int:
    """Prove every signed record and the chain between them; 0 when all prove, else 1."""
    with opened(settings_in(chosen.data)) as database, database.read() as session:
        signed = trail.signed_records(session)
        broken = prove_chain(signed)
    for record, proof in broken:
        warn(f"record {record.id}: {proof.words}")
    say(f"{len(signed) - len(broken)} of {len(signed)} signed records are unaltered.")
    return 1 if broken else 0
