"""The sources themselves: who loads rows, and that no view can do so past the gate."""

import ast
import importlib
import inspect
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.run import ROOT
from tests.tree import python_files

QUERYING = {"get", "get_one", "query", "scalars", "scalar", "execute", "add", "delete", "merge"}
NO_TRAINING = {"gradebook/views/health.py"}
"""Asks the database whether it is there, and for nothing that is in it."""
VIEWS = sorted(python_files("gradebook/views"))
GUARDED = {"enrolment", "enrolments", "lesson_record", "assignable", "load"}
"""What hands training out to a named actor for a named action."""
HANDED = {"record"}
"""A row among the arguments: whoever calls has it from the gate."""
ABOUT = {"enrolment_id", "enrolment_ids", "record_id"}


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def calls(tree: ast.AST) -> Iterator[tuple[str, str]]:
    """What is called in a piece of source: the name before the dot, and the name."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Attribute):
            yield ast.unparse(node.func.value).rpartition(".")[2], node.func.attr
        elif isinstance(node.func, ast.Name):
            yield "", node.func.id


def test_only_records_ask_the_database() -> None:
    asking = {
        f"{named(path)}: {before}.{name}"
        for path in python_files("gradebook")
        if not named(path).startswith(("gradebook/records/", "gradebook/demo/"))
        and named(path) not in NO_TRAINING
        for before, name in calls(ast.parse(path.read_text()))
        if (before in ("session", "Session") and name in QUERYING) or name == "select"
    }
    assert asking == set()


def unguarded() -> set[str]:
    """Store functions that take the id of a student's papers and ask nobody's name."""
    found = set()
    for path in python_files("gradebook/records/store"):
        module = importlib.import_module(f"gradebook.records.store.{path.stem}")
        for name, function in inspect.getmembers(module, inspect.isfunction):
            names = set(inspect.signature(function).parameters)
            if names & ABOUT and "actor" not in names and not name.startswith("_"):
                found.add(name)
    return found


def test_there_are_loaders_without_an_actor_to_look_for() -> None:
    assert {"records_of", "open_ends", "self_grades", "history"} <= unguarded()


@pytest.mark.parametrize("path", VIEWS, ids=lambda path: path.stem)
def test_a_view_that_loads_papers_passes_the_gate_in_the_same_function(path: Path) -> None:
    tree, bare = ast.parse(path.read_text()), unguarded()
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    guarding = set(GUARDED)
    for function in functions:
        if {name for _, name in calls(function)} & GUARDED:
            guarding.add(function.name)
    open_ones = [
        function.name
        for function in functions
        if {name for before, name in calls(function) if before} & bare
        and not {name for _, name in calls(function)} & guarding
        and not {one.arg for one in function.args.args} & HANDED
    ]
    assert open_ones == []


@pytest.mark.parametrize("path", VIEWS, ids=lambda path: path.stem)
def test_a_view_writes_on_post_alone(path: Path) -> None:
    """`method == "GET"` would let HEAD pass for POST, without the form's token."""
    assert 'request.method == "GET"' not in path.read_text()
