"""tests/run.py: what a person reads when something is missing, and when work is repeated."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests import run

RUNNER = Path(run.__file__)


def start_nothing(program, words):
    raise AssertionError(f"started {program} {words}")


def a_machine(*tools: run.Tool, version=(3, 12, 1), install=None) -> run.Machine:
    return run.Machine(version, install, start_nothing, (), tools)


def a_tool(package: str, file: Path) -> run.Tool:
    return run.Tool(package, run.found(str(file)))


def test_an_old_python_is_told_which_one_is_needed(capsys):
    assert run.main(["test"], a_machine(version=(3, 10, 4))) == 2
    said = capsys.readouterr().err
    assert "needs Python 3.11 or newer; this is Python 3.10." in said


@pytest.mark.parametrize("version", [(3, 11), (3, 11, 0), (3, 14, 2), (4, 0)])
def test_the_oldest_python_and_newer_ones_will_do(version):
    run.check_python(version)


def test_missing_tools_without_root_print_the_line_to_type(tmp_path, capsys):
    (tmp_path / "chromium").touch()
    machine = a_machine(
        a_tool("chromium", tmp_path / "chromium"),
        a_tool("postgresql", tmp_path / "*" / "initdb"),
        a_tool("fonts-dejavu-core", tmp_path / "font"),
    )
    assert run.main(["test"], machine) == 2
    line = "apt-get install -y --no-install-recommends postgresql fonts-dejavu-core\n"
    assert capsys.readouterr().err.endswith(f"  apt-get update && {line}")


def test_who_may_install_gets_only_what_is_missing(tmp_path):
    (tmp_path / "chromium").touch()
    tools = [a_tool(name, tmp_path / name) for name in ("chromium", "postgresql")]
    asked = []

    def install(packages):
        asked.extend(packages)
        (tmp_path / "postgresql").touch()

    run.provide(tools, install)
    assert asked == ["postgresql"]


def test_an_install_that_brings_nothing_is_not_believed(tmp_path, capsys):
    machine = a_machine(a_tool("chromium", tmp_path / "chromium"), install=list)
    assert run.main(["test"], machine) == 2
    assert "Missing on this machine: chromium." in capsys.readouterr().err


def test_a_python_that_cannot_make_environments_names_the_package(tmp_path):
    lacking = a_tool("python3-venv", tmp_path / "ensurepip")
    with pytest.raises(run.NotReadyError, match=r"install .* python3-venv$"):
        run.provide((lacking,), None)


@pytest.mark.parametrize("arguments", [[], ["tets"]])
def test_a_word_that_is_no_command_shows_the_usage(arguments, capsys):
    assert run.main(arguments, a_machine()) == 2
    assert "python3 tests/run.py demo" in capsys.readouterr().err


def test_the_stamp_changes_with_the_lock_and_with_the_interpreter():
    stamps = {
        run.fingerprint(lock, interpreter)
        for lock in (b"flask==1", b"flask==2")
        for interpreter in ("3.11", "3.12")
    }
    assert len(stamps) == 4


def test_the_runner_starts_without_any_package():
    done = subprocess.run(
        [sys.executable, "-I", "-S", RUNNER], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("usage: python3 tests/run.py demo")
