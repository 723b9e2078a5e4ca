"""A small course without faults, for tests that break or bend it: files in `short_course`."""

from pathlib import Path

from syllabus.reading import read_folder

FILES = read_folder(Path(__file__).parent / "short_course")


def changed(name: str, old: str, new: str) -> dict[str, str]:
    """The files with one text replaced, once, in one of them."""
    assert old in FILES[name], f"{name} does not hold {old!r}"
    return {**FILES, name: FILES[name].replace(old, new, 1)}


def line_of(name: str, words: str) -> int:
    """Line, from 1, on which the words first stand in a file."""
    return FILES[name][: FILES[name].index(words)].count("\n") + 1
