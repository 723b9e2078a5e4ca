"""The table of OWASP ASVS 5.0, levels 1 and 2: what it says is shown is there to be seen."""

import ast
import csv
from dataclasses import dataclass

import pytest

from tests.run import ROOT

TABLE = ROOT / "tests/security/asvs.csv"
CHAPTERS = range(1, 18)
LEAST = 0.95


@dataclass(frozen=True, slots=True)
class Row:
    """One demand: where it stands, whether it applies, whether it is met, what shows it."""

    id: str
    level: int
    applies: bool
    status: str
    shown: str
    words: str


def rows() -> list[Row]:
    with TABLE.open(newline="", encoding="utf-8") as file:
        return [
            Row(
                one["id"],
                int(one["level"]),
                one["applies"] == "yes",
                one["status"],
                one["shown by"],
                one["words"],
            )
            for one in csv.DictReader(file)
        ]


ROWS = rows()


def missing(shown: str) -> bool:
    """Whether there is no such file, or no such test in it."""
    file, _, test = shown.partition("::")
    path = ROOT / file
    if not path.is_file():
        return True
    if not test:
        return False
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return test not in {one.name for one in tree.body if isinstance(one, ast.FunctionDef)}


def test_every_demand_stands_there_once() -> None:
    names = [one.id for one in ROWS]
    assert len(set(names)) == len(names)
    assert {int(one.partition(".")[0]) for one in names} == set(CHAPTERS)
    assert len(names) > 240


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_a_row_says_all_it_has_to(row: Row) -> None:
    assert row.level in (1, 2)
    assert row.status in (("met", "gap") if row.applies else ("",))
    if not row.applies or row.status == "gap":
        assert row.words
    if row.status == "met":
        assert row.shown
    if row.shown:
        assert not missing(row.shown), row.shown


def test_what_is_not_there_would_be_missed() -> None:
    assert missing("tests/security/test_nothing.py")
    assert missing("tests/security/test_asvs.py::test_nothing")


def test_level_one_is_met_whole() -> None:
    assert [one.id for one in ROWS if one.level == 1 and one.status == "gap"] == []


def test_nearly_all_of_level_two_is_met() -> None:
    asked = [one for one in ROWS if one.applies]
    assert len([one for one in asked if one.status == "met"]) >= LEAST * len(asked)


def test_every_gap_stands_in_the_developers_page() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert [one.id for one in ROWS if one.status == "gap" and one.id not in text] == []
