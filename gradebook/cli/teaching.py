"""`windtee syllabus`: check and publish what is taught."""

import argparse
from pathlib import Path

from gradebook.cli.console import say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.formats import count
from gradebook.records import schema
from gradebook.records.commands.enrolling import publish as publish_course
from gradebook.settings import settings_in
from syllabus.reading import Fault, read_course, read_folder


def syllabus_options(command: argparse.ArgumentParser) -> None:
    """The acts, and what each takes."""
    acts = command.add_subparsers(required=True, metavar="ACT")
    one = acts.add_parser("check", help="report every fault with its file and line")
    one.set_defaults(run=check)
    other = with_data(acts.add_parser("publish", help="publish a course as a new revision"))
    other.set_defaults(run=publish)
    for act in (one, other):
        act.add_argument("path", type=Path, help="the folder of one course")


def check(chosen: argparse.Namespace) -> int:
    """Print every fault as `file:line: words`; 0 when there is none, else 1."""
    return _report(_faults(chosen))


def _faults(chosen: argparse.Namespace) -> tuple[Fault, ...]:
    if not chosen.path.is_dir():
        return (Fault(str(chosen.path), 0, "This folder does not exist."),)
    course, faults = read_course(read_folder(chosen.path))
    if course is not None and not faults:
        parts = (course.stages, "stage"), (course.lessons, "lesson"), (course.tasks, "task")
        say(f"{course.title}: {', '.join(count(len(all_), one) for all_, one in parts)}.")
        say(f"Revision {course.revision}")
    return faults


def _report(faults: tuple[Fault, ...]) -> int:
    for fault in faults:
        warn(f"{fault.file}:{fault.line}: {fault.words}")
    if faults:
        warn(f"{len(faults)} faults.")
        return 1
    return 0


def publish(chosen: argparse.Namespace) -> int:
    """Publish a course without faults; the same content is the same revision."""
    faults = _faults(chosen)
    if faults:
        return _report(faults)
    settings = settings_in(chosen.data)
    with opened(settings) as database:
        try:
            schema.check(database.engine)
        except schema.SchemaError as refusal:
            warn(str(refusal))
            return 1
        with database.write() as session:
            row = publish_course(session, read_folder(chosen.path), settings.now())
    say(f"Published {row.title} as revision {row.id[:12]}.")
    return 0
