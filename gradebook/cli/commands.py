"""The commands. What one takes and does is in a module that is read when it is asked for."""

import argparse
from collections.abc import Callable, Mapping
from importlib import import_module

from gradebook import __version__

CAUTION = (
    "Not for use in flight. Not a substitute for the flight manual, the approved checklist, "
    "local regulation or a licensed instructor."
)
COMMANDS: Mapping[str, tuple[str, str]] = {
    "demo": ("serving", "run the demo school in a browser"),
    "serve": ("serving", "run a school's server"),
    "setup": ("school", "set up a new school"),
    "invite": ("school", "make a link to a new secret"),
    "upgrade": ("school", "bring the database up to date"),
    "verify": ("proving", "prove that nothing was altered"),
    "checkpoint": ("proving", "sign how long the ledger is now"),
    "key": ("keys", "the school's own key: show it, change it"),
    "rebuild": ("rebuilding", "put every row back as the ledger says it was signed"),
    "erase": ("erasing", "erase the records that two people asked for, for good"),
    "doctor": ("doctor", "name what is unsafe, and what to do"),
    "backup": ("keeping", "write one file that holds the school"),
    "backup-key": ("keeping", "make the key that opens sealed backups"),
    "restore": ("keeping", "restore a backup into a new folder"),
    "drill": ("keeping", "prove that the backup can be restored"),
    "needle": ("needle", "fit and rebuild the needles"),
    "forecast": ("forecasting", "fit and replay a table of grades"),
    "simulate": ("scoring", "write the grades of a simulated school"),
    "score": ("scoring", "hold the forecast against simpler ones"),
    "agreement": ("agreeing", "measure how far raters agree"),
    "syllabus": ("teaching", "check and publish what is taught"),
}
"""By name: its module, whose NAME_options says what the command takes; and what it is for."""


def parser(asked: str) -> argparse.ArgumentParser:
    """The command line; of all the commands only `asked` knows its options."""
    whole = argparse.ArgumentParser(
        prog="windtee",
        description="A self-hosted gradebook for flight instruction.",
        epilog=CAUTION,
    )
    whole.add_argument("--version", action="version", version=f"windtee {__version__}")
    groups = whole.add_subparsers(required=True, metavar="COMMAND")
    for name, (module, words) in COMMANDS.items():
        command = groups.add_parser(name, help=words)
        if name == asked:
            _options(module, name)(command)
    return whole


def _options(module: str, name: str) -> Callable[[argparse.ArgumentParser], None]:
    found: Callable[[argparse.ArgumentParser], None] = getattr(
        import_module(f"gradebook.cli.{module}"), f"{name.replace('-', '_')}_options"
    )
    return found
