"""CSV tables: read with the right line numbers, every fault told; written safely."""

import csv
import io

import numpy as np
import pytest

from gradebook.exchange.lines import LONGEST_CELL
from gradebook.exchange.table import Layout, read_table, safe_cell, write_table

PETS = Layout("pets", ("name", "kind"), ("remark",))
TREES = Layout("trees", ("height", "leaf", "place"))
BOTH = (PETS, TREES)


def faults(data: bytes) -> list[tuple[int, str]]:
    """Line and words of every fault."""
    return [(one.line, one.words) for one in read_table(data, BOTH).faults]


def test_rows_come_with_their_lines_and_trimmed_cells() -> None:
    read = read_table(b"name,kind\r\n Rex , dog\r\nTom,cat\r\n", BOTH)
    assert read.layout is PETS
    assert read.faults == ()
    assert [(row.line, row["name"], row["kind"]) for row in read.rows] == [
        (2, "Rex", "dog"),
        (3, "Tom", "cat"),
    ]


def test_a_column_left_out_reads_as_empty() -> None:
    assert read_table(b"name,kind\nRex,dog\n", BOTH).rows[0]["remark"] == ""


def test_the_layout_is_told_by_the_header_in_any_order_and_case() -> None:
    read = read_table(b"Place,LEAF, height\nhill,oak,3\n", BOTH)
    assert read.layout is TREES
    assert read.rows[0]["leaf"] == "oak"


def test_semicolons_and_a_byte_order_mark_are_read() -> None:
    read = read_table("\ufeffname;kind;remark\nZoë;dog;big, brown\n".encode(), BOTH)
    assert read.faults == ()
    assert read.rows[0].cells == {"name": "Zoë", "kind": "dog", "remark": "big, brown"}


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_quoted_line_ends_and_blank_lines_keep_the_line_numbers_right(end: str) -> None:
    lines = ["name,kind,remark", 'Rex,dog,"one', "two", 'three"', "", "Tom,cat,x", ",,", "A,b,"]
    rows = read_table(end.join(lines).encode(), BOTH).rows
    assert [(row.line, row["name"]) for row in rows] == [(2, "Rex"), (6, "Tom"), (8, "A")]
    assert rows[0]["remark"].split() == ["one", "two", "three"]


def test_latin_1_is_refused_at_its_line() -> None:
    data = "name,kind\nRex,dog\nZoë,cat\n".encode("latin-1")
    assert faults(data) == [(3, "This is not UTF-8. Save the file as CSV UTF-8.")]


def test_a_nul_is_named_by_its_line() -> None:
    words = "This is not text: it holds a NUL character. Save the sheet as CSV UTF-8."
    assert faults(b"name,kind\nRex,d\0g\n") == [(2, words)]


@pytest.mark.parametrize("data", [b"", b"\n\n", b"  ,\n"])
def test_an_empty_file_is_refused(data: bytes) -> None:
    assert faults(data) == [(0, "The file is empty.")]


def test_a_header_alone_is_refused() -> None:
    assert faults(b"name,kind\n") == [(0, "There is a header but no row.")]


def test_missing_columns_are_named_with_the_nearest_layout() -> None:
    words = "Looks like trees, but these columns are missing: leaf."
    assert faults(b"height,place\n3,hill\n") == [(1, words)]


def test_a_column_that_is_not_known_or_stands_twice_is_named() -> None:
    assert faults(b"name,kind,owner,name\nRex,dog,Ann,Rex\n") == [
        (1, "Column 'owner' is not known; remove or rename it."),
        (1, "Column 'name' stands there twice."),
    ]


def test_lines_with_too_many_or_too_few_cells_are_named() -> None:
    assert faults(b"name,kind\nRex,dog,brown\nTom,cat\nAlone\n") == [
        (2, "3 cells where the header has 2."),
        (4, "1 cells where the header has 2."),
    ]


def test_a_cell_longer_than_allowed_is_named() -> None:
    data = f"name,kind\nRex,{'d' * LONGEST_CELL}\nTom,{'c' * (LONGEST_CELL + 1)}\n".encode()
    read = read_table(data, BOTH)
    assert [(one.line, one.column) for one in read.faults] == [(3, "kind")]


def test_a_quote_left_open_is_named_by_the_line_it_opens_in() -> None:
    ((line, words),) = faults(b'name,kind\nTom,cat\nRex,"dog\nA,b\n')
    assert line == 3
    assert words.startswith("This cannot be read as CSV")


def test_a_cell_longer_than_any_reader_takes_is_named_by_its_line() -> None:
    ((line, words),) = faults(b"name,kind\nTom,cat\nRex," + b"d" * 200_000)
    assert line == 3
    assert words.startswith("This cannot be read as CSV")


def test_more_columns_or_rows_than_anybody_has_are_refused_early() -> None:
    assert faults(b"," * 1_000_000 + b"a") == [(1, "More than 200 columns.")]
    rows = b"name,kind\n" + b"a,b\n" * 100_001
    assert faults(rows) == [(100_002, "More than 100000 rows: split the file.")]
    assert faults(rows[:-4]) == []


@pytest.mark.parametrize(
    "text", ["=1+1", "+44 1", "-5", "@name", "\t=1", "\r=1", "\n=1", "\0=1", "\uff1d1"]
)
def test_text_that_a_spreadsheet_would_take_for_a_formula_gets_a_quote(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (-5, "-5"),
        (-1.5, "-1.5"),
        (np.int64(-5), "-5"),
        (np.float64(-1.5), "-1.5"),
    ],
)
def test_numbers_and_plain_text_stay_as_they_are(value: object, cell: str) -> None:
    assert safe_cell(value) == cell


def test_a_table_written_is_read_back_whole() -> None:
    remark = 'Said "no", then\nyes; later'
    written = write_table(("name", "kind", "remark"), [("Zoë", "dog", remark), ("-x", "c", -2)])
    assert written.startswith("name,kind,remark\r\n")
    assert list(csv.reader(io.StringIO(written, newline=""))) == [
        ["name", "kind", "remark"],
        ["Zoë", "dog", remark],
        ["'-x", "c", "-2"],
    ]
    assert read_table(written.encode(), BOTH).rows[0]["remark"] == remark
