"""Options that several commands take."""

import argparse
from pathlib import Path

from gradebook.paths import default_data


def with_data(command: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """A command about one school."""
    command.add_argument(
        "--data", type=Path, default=default_data(), metavar="DIR", help="the school's folder"
    )
    return command


def with_place(command: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """A command that listens somewhere."""
    command.add_argument("--port", type=int, default=8765, help="port (default 8765)")
    command.add_argument("--host", default="127.0.0.1", help="address (default 127.0.0.1)")
    return command
