"""`python -m gradebook` is `windtee`."""

from gradebook.cli import run

run()
