"""The commands and their options."""

import argparse
from pathlib import Path

from gradebook import __version__
from gradebook.cli import (
    agreeing,
    doctor,
    erasing,
    forecasting,
    keeping,
    needle,
    proving,
    rebuilding,
    school,
    scoring,
    serving,
    teaching,
)
from gradebook.paths import default_data
from gradebook.words import HOUSE, LANGUAGES

CAUTION = (
    "Not for use in flight. Not a substitute for the flight manual, the approved checklist, "
    "local regulation or a licensed instructor."
)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    whole = argparse.ArgumentParser(
        prog="windtee",
        description="A self-hosted gradebook for flight instruction.",
        epilog=CAUTION,
    )
    whole.add_argument("--version", action="version", version=f"windtee {__version__}")
    groups = whole.add_subparsers(required=True, metavar="COMMAND")
    demo = _with_data(groups.add_parser("demo", help="run the demo school in a browser"))
    _with_port(demo).set_defaults(run=serving.demo, data=default_data() / "demo")
    demo.add_argument("--fresh", action="store_true", help="load the demo school anew")
    serve = _with_data(groups.add_parser("serve", help="run a school's server"))
    _with_port(serve).set_defaults(run=serving.serve)
    _first_accounts(groups)
    upgrade = _with_data(groups.add_parser("upgrade", help="bring the database up to date"))
    upgrade.add_argument("--no-backup", action="store_true", help="make no backup first")
    upgrade.set_defaults(run=school.upgrade)
    proving.add_to(groups, _with_data)
    rebuilding.add_to(groups, _with_data)
    erasing.add_to(groups, _with_data)
    look = _with_data(groups.add_parser("doctor", help="name what is unsafe, and what to do"))
    look.add_argument("--host", default="127.0.0.1", help="address that serve is given")
    look.set_defaults(run=doctor.doctor)
    keeping.add_to(groups)
    needle.add_to(groups)
    forecasting.add_to(groups)
    scoring.add_to(groups)
    agreeing.add_to(groups)
    _syllabus(groups.add_parser("syllabus", help="check and publish what is taught"))
    return whole


def _first_accounts(groups: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    setup = _with_data(groups.add_parser("setup", help="set up a new school"))
    setup.add_argument("--name", required=True, help="the school's name")
    setup.add_argument("--zone", default="UTC", help="its time zone, such as Europe/Lisbon")
    setup.add_argument(
        "--language", default=HOUSE, choices=LANGUAGES, help="of browsers that ask for none"
    )
    for post in ("admin", "chief"):
        setup.add_argument(f"--{post}-name", required=True)
        setup.add_argument(f"--{post}-email", required=True)
    setup.add_argument("--chief-certificate", default="", help="of the chief instructor")
    setup.add_argument("--url", default="", help="where the school will be found")
    setup.set_defaults(run=school.setup)
    invite = _with_data(groups.add_parser("invite", help="make a link to a new secret"))
    invite.add_argument("email", help="whose account it is")
    invite.add_argument("--lost-factors", action="store_true", help="remove them as well")
    invite.add_argument("--url", default="", help="where the school is found")
    invite.set_defaults(run=school.invite)


def _syllabus(group: argparse.ArgumentParser) -> None:
    acts = group.add_subparsers(required=True, metavar="ACT")
    check = acts.add_parser("check", help="report every fault with its file and line")
    check.add_argument("path", type=Path, help="the folder of one course")
    check.set_defaults(run=teaching.check)
    publish = _with_data(acts.add_parser("publish", help="publish a course as a new revision"))
    publish.add_argument("path", type=Path, help="the folder of one course")
    publish.set_defaults(run=teaching.publish)


def _with_data(command: argparse.ArgumentParser) -> argparse.ArgumentParser:
    command.add_argument(
        "--data", type=Path, default=default_data(), metavar="DIR", help="the school's folder"
    )
    return command


def _with_port(command: argparse.ArgumentParser) -> argparse.ArgumentParser:
    command.add_argument("--port", type=int, default=8765, help="port (default 8765)")
    command.add_argument("--host", default="127.0.0.1", help="address (default 127.0.0.1)")
    return command
