"""The command line: `windtee`, one module a command group."""

import sys
from collections.abc import Sequence

from gradebook.cli.commands import parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    chosen = parser().parse_args(arguments)
    result: int = chosen.run(chosen)
    return result


def run() -> None:
    """Run as a program."""
    sys.exit(main())
