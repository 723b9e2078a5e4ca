"""`windtee setup`, `upgrade`: a school and its database."""

import argparse
import getpass
import sys
import zoneinfo

from gradebook.cli.console import say, warn
from gradebook.records import schema, secrets
from gradebook.records.commands import founding
from gradebook.records.commands import people as accounts
from gradebook.records.database import Database, open_engine
from gradebook.records.permissions import Role
from gradebook.records.store import people
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
    engine = open_engine(settings.database)
    schema.upgrade(engine)
    with Database(engine).write() as session:
        if people.school(session) is not None:
            warn("This school has already been set up.")
            return 1
        founding.found(session, settings.seed, chosen.name, chosen.zone, settings.now())
        first = accounts.AddPerson(
            chosen.admin_name, chosen.admin_email, "", [Role.ADMINISTRATOR], typed
        )
        accounts.new_person(session, first, settings.now(), settings.hash_cost)
    say(f"{chosen.name} is set up. Publish a course, then: windtee serve --data {chosen.data}")
    return 0


def _ask_secret() -> str:
    """The secret typed without echo, or the first line of what is piped in."""
    if sys.stdin.isatty():
        return getpass.getpass("Secret of the administrator (at least 15 characters): ")
    return sys.stdin.readline().rstrip("\n")


def upgrade(chosen: argparse.Namespace) -> int:
    """Migrate the database to the newest schema."""
    engine = open_engine(settings_in(chosen.data).database)
    before = schema.current(engine)
    schema.upgrade(engine)
    say(f"Schema {before or 'empty'} -> {schema.newest()}.")
    return 0
