"""What a command says, and where."""

import sys


def say(*lines: str) -> None:
    """Lines to whoever reads the output."""
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()


def warn(*lines: str) -> None:
    """Lines to whoever watches for trouble."""
    sys.stderr.write("".join(f"{line}\n" for line in lines))
    sys.stderr.flush()
