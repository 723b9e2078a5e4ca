"""`windtee doctor`: whether an installation keeps what it is given."""

import argparse
import os

from gradebook.cli.console import say, warn
from gradebook.cli.options import with_data
from gradebook.records import schema
from gradebook.records.database import Database, open_engine
from gradebook.records.inspection import look_over
from gradebook.records.soundness.judging import described, findings
from gradebook.settings import settings_in

ON = frozenset({"1", "true", "yes", "on"})


def doctor_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--host", default="127.0.0.1", help="address that serve is given")
    command.set_defaults(run=doctor)


def doctor(chosen: argparse.Namespace) -> int:
    """Print what was seen and every finding with its remedy; 1 when something is unsafe."""
    settings = settings_in(chosen.data, bind=chosen.host)
    engine = open_engine(settings.database)
    if schema.current(engine) != schema.newest():
        warn("This database is not at this program's schema: run windtee upgrade first.")
        return 1
    debug = os.environ.get("FLASK_DEBUG", "").lower() in ON
    with Database(engine).read() as session:
        facts = look_over(session, settings, debug=debug)
    engine.dispose()
    say(*(f"{name}: {words}" for name, words in described(facts)), "")
    found = findings(facts)
    for one in found:
        say(f"{'UNSAFE' if one.unsafe else 'note'}: {one.title}.", f"  {one.remedy}")
    unsafe = sum(one.unsafe for one in found)
    say(f"Unsafe: {unsafe}.")
    return 1 if unsafe else 0
