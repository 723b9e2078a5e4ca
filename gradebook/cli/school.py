"""`windtee setup`, `upgrade`: a school and its database."""

import argparse
import zoneinfo

from gradebook.cli.console import say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.records import schema
from gradebook.records.act import Act
from gradebook.records.commands import founding, inviting, needling, roles
from gradebook.records.commands.people import AddPerson, entry_problems, new_person
from gradebook.records.faults import InvalidError
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.keeping.upgrading import bring_up, migrate
from gradebook.records.permissions import Action, Role
from gradebook.records.store import people
from gradebook.records.tables.people import Person
from gradebook.settings import settings_in
from gradebook.words import HOUSE, LANGUAGES


def setup_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--name", required=True, help="the school's name")
    command.add_argument("--zone", default="UTC", help="its time zone, such as Europe/Lisbon")
    command.add_argument(
        "--language", default=HOUSE, choices=LANGUAGES, help="of browsers that ask for none"
    )
    for post in ("admin", "chief"):
        command.add_argument(f"--{post}-name", required=True)
        command.add_argument(f"--{post}-email", required=True)
    command.add_argument("--chief-certificate", default="", help="of the chief instructor")
    command.add_argument("--url", default="", help="where the school will be found")
    command.set_defaults(run=setup)


def invite_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("email", help="whose account it is")
    command.add_argument("--lost-factors", action="store_true", help="remove them as well")
    command.add_argument("--url", default="", help="where the school is found")
    command.set_defaults(run=invite)


def upgrade_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--no-backup", action="store_true", help="make no backup first")
    command.set_defaults(run=upgrade)


def setup(chosen: argparse.Namespace) -> int:
    """Make the school, its administrator and its chief instructor; print a link for each.

    Nobody has a secret until they set one through their link.
    """
    if chosen.zone not in zoneinfo.available_timezones():
        warn(f"{chosen.zone} is not a time zone, such as Europe/Lisbon.")
        return 2
    settings = settings_in(chosen.data)
    first = AddPerson(chosen.admin_name, chosen.admin_email, "", (Role.ADMINISTRATOR,))
    chief = AddPerson(
        chosen.chief_name, chosen.chief_email, chosen.chief_certificate, (Role.CHIEF,)
    )
    migrate(settings)
    try:
        with opened(settings) as database, database.write() as session:
            if people.school(session) is not None:
                warn("This school has already been set up.")
                return 1
            row = founding.found(
                session, settings.seed, chosen.name, chosen.zone, settings.now()
            )
            row.language = chosen.language
            act = founding.server_act(session, settings.seed, settings.now(), chosen.zone)
            links = [_first_link(act, one, chosen.url) for one in (first, chief)]
    except InvalidError as fault:
        warn(*(problem.words for problem in fault.problems))
        return 2
    say(
        f"{chosen.name} is set up. Next, where COURSE is a folder such as"
        " seed_data/courses/private-airplane:",
        f"  windtee syllabus publish COURSE --data {chosen.data}",
        f"  windtee serve --data {chosen.data}",
    )
    say("Hand each their link; it works once, for three days:", *links)
    return 0


def _first_link(act: Act, command: AddPerson, base: str) -> str:
    """Make one of the first accounts with its role, which nobody else can confirm yet."""
    if problems := entry_problems(act.session, command):
        raise InvalidError(*problems)
    person = new_person(act, command)
    for role in command.roles:
        roles.grant(act, person, role)
    return f"  {person.name} ({', '.join(command.roles)}): {_address(act, person, base)}"


def _address(act: Act, person: Person, base: str, *, clears: bool = False) -> str:
    token = inviting.new_link(act, person, clears_factors=clears)
    return f"{base.rstrip('/')}/join/{token}"


def invite(chosen: argparse.Namespace) -> int:
    """Make a link for somebody when no administrator can: whoever runs the server may."""
    settings = settings_in(chosen.data)
    with opened(settings) as database, database.write() as session:
        person = people.person_by_email(session, chosen.email)
        if person is None or not person.active:
            warn(f"Nobody here has the address {chosen.email}, or their account is closed.")
            return 1
        act = founding.server_act(session, settings.seed, settings.now())
        address = _address(act, person, chosen.url, clears=chosen.lost_factors)
        act.note(Action.PEOPLE_CHANGE, person.id, None, made_link=True, at_the_server=True)
    say(f"For {person.name}, once, within three days: {address}")
    if chosen.lost_factors:
        say("It waits until an administrator or the chief instructor confirms it under People.")
    return 0


def upgrade(chosen: argparse.Namespace) -> int:
    """Migrate the database to the newest schema, with a backup first; 1 and why not."""
    settings = settings_in(chosen.data)
    try:
        with opened(settings) as database:
            done = bring_up(settings, database, safe=not chosen.no_backup)
            with database.write() as session:
                renewed = needling.renew(session, settings.now())
    except (BackupError, schema.SchemaError) as refusal:
        warn(str(refusal))
        return 1
    if done.file:
        say(f"Backed up first: {done.file}")
    before, after = done.counted.before.rows, done.counted.after.rows
    for name in after:
        say(f"  {name:<24} {before.get(name, 0):>9} -> {after[name]:>9} rows")
    say(f"Schema {done.since or 'empty'} -> {schema.newest()}; every guard in place.")
    if done.adopted:
        say(f"{done.adopted} statements entered in the new ledger for what was there before.")
    if renewed:
        say("Every needle renewed: they were of an earlier arithmetic.")
    return 0
