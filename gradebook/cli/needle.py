"""`windtee needle`: fit the parameters to the school's grades; rebuild what follows."""

import argparse

from gradebook.analytics.needle.parameters import FEWEST_GRADES
from gradebook.cli.console import headway, say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.records.commands import needling
from gradebook.settings import settings_in


def refit(chosen: argparse.Namespace) -> int:
    """Fit, put in force, rebuild; 1 and no change while there are too few grades."""
    settings = settings_in(chosen.data)
    with opened(settings) as database, database.write() as session, headway() as tell:
        row = needling.refit(session, settings.now(), warn, tell)
    if row is None:
        warn(
            f"Fewer than {FEWEST_GRADES} counted grades: the published defaults stay in force."
        )
        return 1
    say(f"Fitted on {row.grades} grades of {row.students} students; every needle rebuilt.")
    return 0


def rebuild(chosen: argparse.Namespace) -> int:
    """Work every needle out anew from the records."""
    settings = settings_in(chosen.data)
    with opened(settings) as database, database.write() as session, headway() as tell:
        grades = needling.rebuild(session, needling.everybody(session), tell)
    say(f"Every needle rebuilt from {grades} grades.")
    return 0


def needle_options(command: argparse.ArgumentParser) -> None:
    """The acts, and what each takes."""
    acts = command.add_subparsers(required=True, metavar="ACT")
    for name, run, words in (
        ("refit", refit, "fit the parameters to the school's grades"),
        ("rebuild", rebuild, "work every needle out anew"),
    ):
        act = with_data(acts.add_parser(name, help=words))
        act.set_defaults(run=run)
