"""Workbooks: read like the CSV they could be; what is made to break the reader is refused."""

import io
import subprocess
import sys
import zipfile
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest

from gradebook.exchange import unpacking
from gradebook.exchange.archive import ArchiveError, check_archive
from gradebook.exchange.table import Layout
from gradebook.exchange.workbook import BROKEN, OLD, TOO_MUCH, read_file

PETS = Layout("pets", ("name", "kind"), ("born", "hours", "tame", "remark"))
HEADER = ["Name", "Kind", "Born", "Hours", "Tame", "Remark"]
MIB = 1024 * 1024


def workbook(*rows: list[object], **sheets: list[list[object]]) -> bytes:
    """A workbook of one sheet with these rows, and of others by name."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for name, more in sheets.items():
        sheet = book.create_sheet(name)
        for row in more:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def packed(members: dict[str, bytes], kind: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A ZIP file of these members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", kind) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def with_members(added: dict[str, bytes]) -> bytes:
    """A good workbook with some members replaced or added."""
    with zipfile.ZipFile(io.BytesIO(workbook(HEADER[:2], ["Rex", "dog"]))) as archive:
        members = {one: archive.read(one) for one in archive.namelist()}
    return packed({**members, **added})


def with_member(name: str, content: bytes) -> bytes:
    """A good workbook with one member replaced or added."""
    return with_members({name: content})


def faults(data: bytes) -> list[tuple[int, str, str]]:
    """Line, column and words of every fault."""
    return [(one.line, one.column, one.words) for one in read_file(data, [PETS]).faults]


def test_rows_come_by_their_numbers_in_the_sheet_as_a_csv_would_have_them() -> None:
    born = date(2026, 5, 31)
    read = read_file(
        workbook(
            [],
            HEADER,
            ["Rex", "dog", born, 1.2, True, "=not a formula".replace("=", "is ")],
            [],
            [" Tom ", 7, datetime.combine(born, time(14, 5)), time(1, 12), False, None],
            ["Ann", 3.0, "2026-05-31", timedelta(hours=26, minutes=5)],
        ),
        [PETS],
    )
    assert read.faults == ()
    assert [(row.line, *row.cells.values()) for row in read.rows] == [
        (3, "Rex", "dog", "2026-05-31", "1.2", "yes", "is not a formula"),
        (5, "Tom", "7", "2026-05-31 14:05", "1:12", "", ""),
        (6, "Ann", "3", "2026-05-31", "26:05", "", ""),
    ]


def test_a_sum_of_floats_reads_as_it_is_shown() -> None:
    assert unpacking.written(0.1 + 0.2) == "0.3"


def test_a_formula_is_named_by_its_cell_and_not_worked_out() -> None:
    data = workbook(HEADER[:2], ["Rex", "=1+1"], ["=A2", "cat"])
    assert faults(data) == [
        (2, "B2", "B2 holds a formula: put its value there."),
        (3, "A3", "A3 holds a formula: put its value there."),
    ]


def test_a_header_that_is_not_known_is_told_at_its_row() -> None:
    assert faults(workbook([], ["Name", "Sort"], ["Rex", "dog"])) == [
        (2, "", "Looks like pets, but these columns are missing: kind.")
    ]


def test_a_row_with_one_cell_too_many_is_told() -> None:
    assert faults(workbook(HEADER[:2], ["Rex", "dog"], ["Tom", "cat", "x"])) == [
        (3, "", "3 cells where the header has 2.")
    ]


def test_rows_on_two_sheets_are_refused_and_an_empty_second_sheet_is_not() -> None:
    rows = [HEADER[:2], ["Rex", "dog"]]
    assert faults(workbook(*rows, Other=[["a"]])) == [
        (0, "", "2 sheets hold rows: keep the one to import.")
    ]
    assert faults(workbook(*rows, Other=[])) == []
    assert faults(workbook()) == [(0, "", "The workbook is empty.")]


def test_csv_is_still_read() -> None:
    assert read_file(b"name,kind\nRex,dog\n", [PETS]).rows[0]["kind"] == "dog"


BILLION = b"""<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>
<worksheet><sheetData><row><c t="inlineStr"><is><t>&c;</t></is></c></row></sheetData>
</worksheet>"""
OUTSIDE = b"""<?xml version="1.0"?><!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/hostname">]>
<worksheet><sheetData><row><c t="inlineStr"><is><t>&x;</t></is></c></row></sheetData>
</worksheet>"""
SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04 nothing", "The file is damaged."),
        (workbook(HEADER)[:-200], "The file is damaged."),
        (b"\xd0\xcf\x11\xe0" + b"\0" * 600, OLD),
        (packed({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet"}), BROKEN),
        (with_member("[Content_Types].xml", b"<Types/>"), BROKEN),
        (with_member(SHEET, b"<worksheet"), BROKEN),
        (with_member(SHEET, BILLION), BROKEN),
        (with_member(SHEET, OUTSIDE), BROKEN),
    ],
)
def test_what_is_no_sound_workbook_is_refused(data: bytes, words: str) -> None:
    assert faults(data) == [(0, "", words)]


def test_a_bomb_inside_a_workbook_is_not_unpacked() -> None:
    data = with_member("xl/media/image1.png", b"\0" * (60 * MIB))
    assert len(data) < MIB
    assert faults(data) == [(0, "", "The file unpacks to far more than it should.")]


def linked() -> bytes:
    """A ZIP file with a symbolic link."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        link = zipfile.ZipInfo("xl/link")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/passwd")
    return out.getvalue()


def random_bytes(size: int) -> bytes:
    """Bytes that do not pack, the same every time."""
    return b"".join((n * n % 65521 * 2654435761 % 2**32).to_bytes(4) for n in range(size // 4))


ELSEWHERE = "The file holds a part with the name of a place elsewhere."


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (packed({f"f{n}": b"" for n in range(201)}), "The file holds more than 200 parts."),
        (packed({"a": b"\0" * 2 * MIB}), "The file unpacks to far more than it should."),
        (packed({"x/book.xlsx": packed({"a": b"b"})}), "The file holds another packed file."),
        (packed({"x.bin": b"\x1f\x8b\x08\0"}), "The file holds another packed file."),
        (packed({"/etc/passwd": b""}), ELSEWHERE),
        (packed({"xl/../../up": b""}), ELSEWHERE),
        (packed({"xl\\..\\up": b""}), ELSEWHERE),
        (packed({"c:up": b""}), ELSEWHERE),
        (linked(), ELSEWHERE),
        (b"PK\x03\x04" + b"a" * 10 * MIB, "The file is larger than 10 MiB."),
    ],
)
def test_an_archive_is_refused_for_what_it_is(data: bytes, words: str) -> None:
    with pytest.raises(ArchiveError, match=words):
        check_archive(data)


def test_two_hundred_parts_of_ordinary_size_are_taken() -> None:
    check_archive(packed({f"f{n}": b"a" * 20_000 for n in range(200)}))


def test_much_in_all_is_refused_though_no_part_is_out_of_proportion() -> None:
    part = (random_bytes(40_000) + b"\0" * 2_000_000)[:2_000_000]
    data = packed({f"f{n}": part for n in range(27)})
    assert len(data) < 10 * MIB
    with pytest.raises(ArchiveError, match="more than 50 MiB"):
        check_archive(data)


def test_a_size_that_is_a_lie_does_not_help() -> None:
    data = bytearray(packed({"a": b"\0" * 2 * MIB}))
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    with pytest.raises(ArchiveError):
        check_archive(bytes(data))


NAMES = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHARED = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def sharing(texts: list[str], rows: list[list[int]]) -> bytes:
    """A workbook whose cells name texts that are kept once, as spreadsheets write them."""
    with zipfile.ZipFile(io.BytesIO(workbook(HEADER))) as archive:
        kinds = archive.read("[Content_Types].xml").decode()
    part = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{SHARED}"/></Types>'
    kept = "".join(f"<si><t>{text}</t></si>" for text in texts)
    cells = ["".join(f'<c t="s"><v>{place}</v></c>' for place in row) for row in rows]
    body = "".join(f"<row>{row}</row>" for row in cells)
    members = {
        "[Content_Types].xml": kinds.replace("</Types>", part),
        "xl/sharedStrings.xml": f'<sst xmlns="{NAMES}">{kept}</sst>',
        SHEET: f'<worksheet xmlns="{NAMES}"><sheetData>{body}</sheetData></worksheet>',
    }
    return with_members({name: text.encode() for name, text in members.items()})


def test_shared_texts_are_read() -> None:
    read = read_file(sharing(["name", "kind", "Rex", "=1+1"], [[0, 1], [2, 3]]), [PETS])
    assert [dict(row.cells) for row in read.rows] == [{"name": "Rex", "kind": "=1+1"}]


def test_a_sheet_that_names_one_long_text_again_and_again_is_refused() -> None:
    data = sharing([random_bytes(40_000).hex()], [[0] * 50] * 30)
    ((line, _, words),) = faults(data)
    assert line > 1
    assert words == "The sheet holds too much text: split the file."


def test_the_reader_is_confined() -> None:
    probe = (
        "from gradebook.exchange.unpacking import confine; import resource as r; confine();"
        "print(*(r.getrlimit(x)[0] for x in (r.RLIMIT_AS, r.RLIMIT_CPU, r.RLIMIT_FSIZE)))"
    )
    said = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True)
    assert said.stdout.split() == [str(512 * MIB), "20", "0"], said.stderr


def test_a_reader_out_of_memory_says_so_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    assert faults(workbook(HEADER)) == [(0, "", BROKEN)]
    assert TOO_MUCH.startswith("Reading this workbook takes too much")


def test_five_thousand_rows_are_read() -> None:
    rows = [["Rex", "dog", date(2026, 5, 31), 1.2, None, "remark"]] * 5_000
    read = read_file(workbook(HEADER, *rows), [PETS])
    assert read.faults == ()
    assert len(read.rows) == 5_000
