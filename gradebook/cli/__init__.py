"""The command line: `windtee`, one module a command group."""

import sys
from collections.abc import Sequence

from gradebook.cli.commands import parser
from gradebook.cli.console import warn
from gradebook.ledger.chain import CUT
from gradebook.records.faults import TornError
from gradebook.settings import SettingError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    chosen = parser(next(iter(given), "")).parse_args(given)
    try:
        result: int = chosen.run(chosen)
    except SettingError as fault:
        warn(str(fault))
        return 2
    except TornError as fault:
        warn(str(fault))
        return CUT
    return result


def run() -> None:
    """Run as a program."""
    sys.exit(main())
