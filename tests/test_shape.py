"""The shape of the sources: short files, short functions, words everywhere, honest names."""

import ast
import math
import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.run import LOCKS, ROOT
from tests.tree import kept_files, python_files, top_level_names

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".gitignore", ".ci",
    "gradebook", "syllabus", "templates", "static", "seed_data", "tests",
}  # fmt: skip
BANNED = re.compile(r"(.*_)?(util|utils|helper|helpers|common|manager|base|misc)")
OURS = ("gradebook", "syllabus")
FUNCTION = (ast.FunctionDef, ast.AsyncFunctionDef)
LOCK_LINE = re.compile(
    r"[a-z0-9-]+(\[[a-z0-9,-]+\])?==[\w.]+( ; [\w .'<>=!()]+)? \\"
    r"|    --hash=sha256:[0-9a-f]{64}( \\)?"
    r"|    # +(via)?( +[\w-]+( \((pyproject\.toml(:\w+)?)\))?)?"
)
INLINE = {
    "script": re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)", re.I),
    "style element": re.compile(r"<style\b", re.I),
    "style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.I),
    "event attribute": re.compile(r"<[^>]*\son[a-z]+\s*=", re.I),
    "script address": re.compile(r"=\s*[\"']?\s*javascript:", re.I),
}
JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.S)


def p95(sizes: dict[str, int]) -> tuple[int, list[str]]:
    """The 95th percentile by nearest rank, and what lies above it."""
    ranked = sorted(sizes, key=sizes.__getitem__)
    at = math.ceil(0.95 * len(ranked)) - 1
    return sizes[ranked[at]], [f"{name}: {sizes[name]}" for name in ranked[at:]]


def parsed() -> Iterator[tuple[str, ast.Module]]:
    for path in python_files(*OURS):
        yield str(path.relative_to(ROOT)), ast.parse(path.read_text())


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the body without its docstring, nested functions included."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def public_nodes(where: str, node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """The module, its public classes and functions, and the public methods of those."""
    yield where, node
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, (*FUNCTION, ast.ClassDef)) or child.name.startswith("_"):
            continue
        name = f"{where}:{child.name}"
        yield from (
            public_nodes(name, child) if isinstance(child, ast.ClassDef) else [(name, child)]
        )


def locked(name: str) -> dict[str, str]:
    text = (LOCKS / f"{name}.txt").read_text()
    return dict(re.findall(r"^([a-z0-9-]+)(?:\[[a-z0-9,-]+\])?==(\S+)", text, re.M))


def names_of(requirements: list[str]) -> set[str]:
    return {re.split(r"[^\w-]", one)[0].lower() for one in requirements}


def test_files_are_short():
    sizes = {
        str(path.relative_to(ROOT)): len(path.read_text().splitlines())
        for path in python_files(*OURS)
        if path.parent.name != "versions"  # migrations: lists of tables, written once
    }
    size, above = p95(sizes)
    assert size <= 250, above
    assert max(sizes.values()) <= 400, above


def test_functions_are_short():
    sizes = {
        f"{where}:{node.lineno} {node.name}": body_lines(node)
        for where, tree in parsed()
        for node in ast.walk(tree)
        if isinstance(node, FUNCTION)
    }
    size, above = p95(sizes)
    assert size <= 25, above


def test_everything_public_says_what_it_is():
    silent = [
        name
        for where, tree in parsed()
        for name, node in public_nodes(where, tree)
        if not ast.get_docstring(node)
    ]
    assert silent == []


def test_no_file_is_named_for_nothing():
    files = [*python_files(*OURS, "tests"), *kept_files("static", "*.js")]
    named = {part for path in files for part in path.relative_to(ROOT).with_suffix("").parts}
    assert [name for name in named if BANNED.fullmatch(name)] == []


def test_the_syllabus_needs_only_the_standard_library():
    allowed = sys.stdlib_module_names | {"syllabus"}
    foreign = [
        f"{path.name}: {name}"
        for path in python_files("syllabus")
        for node in ast.walk(ast.parse(path.read_text()))
        for name in imported(node)
        if name.split(".")[0] not in allowed
    ]
    assert foreign == []


def imported(node: ast.AST) -> list[str]:
    """Modules that one import statement names."""
    if isinstance(node, ast.ImportFrom):
        return [node.module or "."]
    return [alias.name for alias in node.names] if isinstance(node, ast.Import) else []


def test_the_top_of_the_checkout_holds_only_what_was_agreed():
    assert set(top_level_names()) - TOP_LEVEL == set()


@pytest.mark.parametrize("name", ["run", "test"])
def test_a_lock_names_versions_and_hashes_and_no_place(name):
    lines = (LOCKS / f"{name}.txt").read_text().splitlines()
    assert [line for line in lines if not LOCK_LINE.fullmatch(line)] == []


def test_the_locks_hold_what_the_project_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    running, testing = locked("run"), locked("test")
    asked = names_of(project["dependencies"])
    assert asked - running.keys() == set()
    extras = set().union(*map(names_of, project["optional-dependencies"].values()))
    assert (asked | extras) - testing.keys() == set()


OPTIONAL = {"scikit-learn", "-typeshed"}
"""Only a comparison needs the one, and says so; only the type checker reads the other."""


@pytest.mark.parametrize(("lock", "folders"), [("run", OURS), ("test", ("tests",))])
def test_every_package_that_is_imported_is_locked(lock, folders):
    own = {*OURS, "tests"} | sys.stdlib_module_names
    brought_by = packages_distributions()
    needed = {
        brought_by.get(top, [top])[0].lower().replace("_", "-")
        for path in python_files(*folders)
        for node in ast.walk(ast.parse(path.read_text()))
        for top in (name.split(".")[0] for name in imported(node))
        if top not in own
    }
    assert needed - locked(lock).keys() - OPTIONAL == set()


def test_tests_run_on_the_versions_that_people_run():
    running, testing = locked("run"), locked("test")
    assert {name: testing.get(name) for name in running} == running


@pytest.mark.parametrize("kind", INLINE)
def test_templates_hold_no_inline(kind):
    guilty = [
        str(path.relative_to(ROOT))
        for path in kept_files("templates")
        if INLINE[kind].search(JINJA.sub("", path.read_text()))
    ]
    assert guilty == []


def test_every_template_is_used():
    files = {
        str(path.relative_to(ROOT / "templates")): path for path in kept_files("templates")
    }
    sources = [*python_files("gradebook"), *files.values()]
    texts = {path: path.read_text() for path in sources}
    unused = [
        name
        for name, own in files.items()
        if not any(f'"{name}"' in text for path, text in texts.items() if path != own)
    ]
    assert unused == []


def test_only_the_clock_reads_the_time():
    pattern = re.compile(r"\b(datetime\.now|datetime\.today|date\.today|time\.time)\(")
    readers = {
        str(path.relative_to(ROOT))
        for path in python_files(*OURS)
        if pattern.search(path.read_text())
    }
    assert readers <= {str(Path("gradebook", "clock.py"))}
