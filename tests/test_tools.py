"""Every tool that judges the sources is satisfied."""

import subprocess
import sys
from pathlib import Path

from tests.run import ROOT

PROGRAMS = Path(sys.executable).parent


def assert_content(*command: str | Path) -> None:
    done = subprocess.run(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}"


def test_ruff_finds_no_fault():
    assert_content(sys.executable, "-m", "ruff", "check", "--output-format=concise")


def test_the_sources_are_formatted():
    assert_content(sys.executable, "-m", "ruff", "format", "--check")


def test_the_types_hold():
    assert_content(sys.executable, "-m", "mypy")


def test_no_module_imports_what_its_layer_may_not_know():
    assert_content(PROGRAMS / "lint-imports")


def test_djlint_finds_no_fault_in_templates():
    assert_content(sys.executable, "-m", "djlint", "templates", "--lint", "--quiet")


def test_the_templates_are_formatted():
    assert_content(sys.executable, "-m", "djlint", "templates", "--check")
