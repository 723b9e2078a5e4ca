"""The files of the checkout that count: those that git would keep."""

from collections.abc import Iterator
from pathlib import Path

from pathspec import GitIgnoreSpec

from tests.run import ROOT


def _ignored() -> GitIgnoreSpec:
    return GitIgnoreSpec.from_lines((ROOT / ".gitignore").read_text().splitlines())


def kept_files(folder: str, pattern: str = "*") -> list[Path]:
    """Files below a top-level folder whose names match, in order, without ignored ones."""
    ignored = _ignored()
    found = (path for path in (ROOT / folder).rglob(pattern) if path.is_file())
    return sorted(path for path in found if not ignored.match_file(path.relative_to(ROOT)))


def python_files(*folders: str) -> list[Path]:
    """All Python files of these top-level folders."""
    return [path for folder in folders for path in kept_files(folder, "*.py")]


def top_level_names() -> Iterator[str]:
    """Names at the top of the checkout, without git's own and ignored ones."""
    ignored = _ignored()
    for path in ROOT.iterdir():
        name = f"{path.name}/" if path.is_dir() else path.name
        if path.name != ".git" and not ignored.match_file(name):
            yield path.name
