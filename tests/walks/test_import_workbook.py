"""Import of a workbook: the same preview, the same faults by row, the same commit."""

import csv
import io
from datetime import date, time

import openpyxl

from tests.cast import TestSchool
from tests.walks.test_import import commit, upload
from tests.walks.test_import_faults import GOOD, STUDENTS, ZOE, state_of, told


def workbook(*lines: str) -> bytes:
    """A workbook with these lines of CSV, days and hours as a spreadsheet keeps them."""
    book = openpyxl.Workbook()
    for row in csv.reader(lines):
        cells: list[object] = list(row)
        for at, cell in enumerate(row):
            if cell == "2026-05-04":
                cells[at] = date(2026, 5, 4)
            if cell == "1.2":
                cells[at] = time(1, 12)
        book.active.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_students_and_lessons_come_in_from_workbooks(either_school: TestSchool) -> None:
    cleo = either_school.visitor("cleo")
    preview = upload(cleo, workbook(STUDENTS, ZOE), name="students.xlsx")
    assert "students.xlsx · 1 row · nothing is written yet" in preview
    assert "1 student imported" in commit(cleo, preview)
    preview = upload(cleo, workbook(*GOOD), name="grades.xlsx")
    assert "1 lesson with 3 grades to import" in preview
    assert "4 May 2026" in preview
    assert "1 lesson with 3 grades imported." in commit(cleo, preview)
    again = told(upload(cleo, "\n".join(GOOD), 422))
    assert "already on file" in again[0][2]


def test_faults_of_a_workbook_are_named_by_row_and_cell(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    before = state_of(cleo)
    wrong = [line.replace("explain", "excellent") for line in GOOD]
    found = told(upload(cleo, workbook(*wrong), 422))
    assert [row[:2] for row in found] == [["4", "grade"]]
    formula = [line.replace("explain", "=A1") for line in GOOD]
    found = told(upload(cleo, workbook(*formula), 422))
    assert found == [["4", "G4", "G4 holds a formula: put its value there."]]
    assert state_of(cleo) == before
