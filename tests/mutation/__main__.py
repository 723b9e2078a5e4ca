"""Spoil the modules and see which tests notice: `python -m tests.mutation [NAME ...]`.

Each mutant is a forked process in which the module is read spoilt and its tests run until one
fails. What no test notices is told; the status is 1 when fewer than nine in ten are noticed.
"""

import argparse
import importlib
import os
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.mutation.plan import MODULES, PRELOAD, options
from tests.mutation.reading import read_spoilt
from tests.mutation.spoiling import Mutant, mutants
from tests.run import ROOT

PATIENCE, LEAST = 120, 0.9


def noticed(name: str, mutant: Mutant, tests: Sequence[str]) -> bool:
    """Whether a test fails, or nothing ends in time."""
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        return status != 0
    signal.alarm(PATIENCE)
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    try:
        read_spoilt(name, mutant.text, ROOT)
        os._exit(int(pytest.main([*options(name), *tests])))
    except BaseException:  # noqa: BLE001 - whatever it is, it was noticed
        os._exit(1)


def main() -> None:
    """Spoil each module in turn and tell what nobody noticed."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    asked.add_argument("names", nargs="*", default=[*MODULES], metavar="NAME")
    asked.add_argument("--every", type=int, default=1, help="only each so-manieth mutant")
    given = asked.parse_args()
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    os.chdir(ROOT)
    for one in PRELOAD:
        importlib.import_module(one)
    seen = missed = 0
    for name in given.names:
        began, lost, tests = time.perf_counter(), 0, MODULES[name]
        whole = Path(f"{name.replace('.', '/')}.py").read_text()
        if noticed(name, Mutant(0, "", "", whole), tests):
            sys.exit(f"{name}: the tests fail before anything is spoilt")
        found = list(mutants(whole))[:: given.every]
        for one in found:
            if not noticed(name, one, tests):
                lost += 1
                sys.stdout.write(f"  {name}:{one.line}: {one.before}  ->  {one.after}\n")
                sys.stdout.flush()
        seen, missed = seen + len(found), missed + lost
        took = time.perf_counter() - began
        sys.stdout.write(f"{name}: {len(found) - lost} of {len(found)}, {took:.0f} s\n")
        sys.stdout.flush()
    sys.stdout.write(f"in all {seen - missed} of {seen} noticed\n")
    sys.exit(seen - missed < LEAST * seen)


if __name__ == "__main__":
    main()
