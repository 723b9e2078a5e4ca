"""Import of faulty files: every fault named at its line, and nothing written at all."""

import re

import pytest

from tests.cast import TestSchool, Visitor
from tests.generator import make
from tests.walks.test_import import bring_in, commit, rows, upload

HEADER = "student_email,course,lesson,flown_on,instructor_email,task,grade,outcome,dual,errors"
ANA = "ana@school.example,small,s-01,2026-05-04,ben@school.example"
GOOD = (
    HEADER,
    f"{ANA},preflight,practice,complete,1.2,PF-01",
    f"{ANA},run-up,perform,,,",
    f"{ANA},hover,explain,,,",
)
STUDENTS = "name,email,course,enrolled_on,instructor_email"
ZOE = "Zoë Test,zoe@school.example,small,2026-04-01,ben@school.example"


def lines(*changed: tuple[int, str, str]) -> str:
    """The good file with a piece of some lines (1 is the header) replaced."""
    text = list(GOOD)
    for line, old, new in changed:
        assert old in text[line - 1]
        text[line - 1] = text[line - 1].replace(old, new)
    return "\n".join(text) + "\n"


def told(page: str) -> list[list[str]]:
    """Line, column and words of every fault shown."""
    return rows(page)[1:]


def state_of(cleo: Visitor) -> list[str]:
    """How many students, records and acts the school has."""
    students, audit = cleo.get("/students"), cleo.get("/audit?prove=1")
    found = re.findall(
        r"\d+ students|\d+ entr(?:y|ies) of the ledger|\d+ acts?", students + audit
    )
    assert len(found) >= 3
    return found


@pytest.mark.parametrize(
    ("changed", "line", "column", "words"),
    [
        ((3, "run-up", "roll-up"), "3", "task", "Small course has no task 'roll-up'."),
        ((4, "explain", "excellent"), "4", "grade", "'excellent' is not a level of LCG-MAN"),
        ((2, "1.2", "31.5"), "2", "dual", "A day has 24 hours."),
        ((2, "1.2", "soon"), "2", "dual", "Type hours as 1.2 or 1:12."),
        ((2, "1.2", ""), "2", "dual", "A flight lesson needs its flight time."),
        ((2, "PF-01", "HV-01"), "2", "errors", "Preflight inspection has no error 'HV-01'."),
        ((2, "complete", "great"), "2", "outcome", "'great' is not one of: complete,"),
        ((3, "run-up", "preflight"), "3", "task", "Preflight inspection is graded twice here."),
        ((3, "perform,,,", "perform,,2.0,"), "3", "dual", "dual differs from line 2"),
        ((3, "perform,,,", "perform,,,,x"), "3", "", "11 cells where the header has 10."),
        ((1, "grade,", "mark,"), "1", "", "these columns are missing: grade."),
        ((1, "dual", "dualtime"), "1", "dualtime", "Column 'dualtime' is not known"),
    ],
)
def test_a_faulty_row_is_named_by_its_line(
    school: TestSchool, changed: tuple[int, str, str], line: str, column: str, words: str
) -> None:
    cleo = school.visitor("cleo")
    before = state_of(cleo)
    found = told(upload(cleo, lines(changed), 422))
    assert any(row[:2] == [line, column] and words in row[2] for row in found), found
    assert all(row[0] == line for row in found), found
    assert state_of(cleo) == before


@pytest.mark.parametrize(
    ("old", "new", "column", "words"),
    [
        ("2026-05-04", "2026-05-21", "flown_on", "2026-05-21 is in the future."),
        ("2026-05-04", "2026-02-30", "flown_on", "Type the date as year-month-day"),
        ("2026-05-04", "", "flown_on", "A date such as 2026-05-31 is needed."),
        ("2026-05-04", "2020-01-01", "flown_on", "The student enrolled on"),
        ("ana@", "nobody@", "student_email", "'nobody@school.example' is not enrolled"),
        ("ben@", "ana@", "instructor_email", "'ana@school.example' is an instructor here."),
        ("small", "large", "student_email", "is not enrolled in 'large'"),
        ("s-01", "s-77", "lesson", "Small course has no lesson 's-77'."),
    ],
)
def test_a_fault_of_a_whole_lesson_is_named_at_its_first_line(
    school: TestSchool, old: str, new: str, column: str, words: str
) -> None:
    cleo = school.visitor("cleo")
    before = state_of(cleo)
    found = told(upload(cleo, "\n".join(GOOD).replace(old, new), 422))
    assert any(row[:2] == ["2", column] and words in row[2] for row in found), found
    assert state_of(cleo) == before


def test_one_fault_is_told_once(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    text = lines((4, "explain", "excellent"), (2, "PF-01", "HV-01"))
    found = told(upload(cleo, text.replace("2026-05-04", "4 May"), 422))
    assert [row[:2] for row in found] == [["2", "errors"], ["2", "flown_on"], ["4", "grade"]]


def test_latin_1_is_refused_at_its_line(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    before = state_of(cleo)
    data = f"{STUDENTS}\n{ZOE}\n".encode("latin-1")
    assert told(upload(cleo, data, 422)) == [
        ["2", "", "This is not UTF-8. Save the file as CSV UTF-8."]
    ]
    assert state_of(cleo) == before


def test_semicolons_with_a_byte_order_mark_are_taken(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    text = "\ufeff" + f"{STUDENTS}\r\n{ZOE}\r\n".replace(",", ";")
    assert "1 student imported" in commit(cleo, upload(cleo, text))
    assert "Zoë Test" in cleo.get("/students")
    grades = "\ufeff" + "\r\n".join(GOOD).replace(",", ";").replace("ana@", "zoe@")
    assert "1 lesson with 3 grades imported." in commit(cleo, upload(cleo, grades))


@pytest.mark.parametrize(
    ("old", "new", "column"),
    [
        ("Zoë Test", "", "name"),
        ("zoe@school.example", "zoe", "email"),
        ("zoe@school.example", "ana@school.example", "email"),
        ("small", "large", "course"),
        ("2026-04-01", "2026-06-01", "enrolled_on"),
        ("2026-04-01", "1.4.2026", "enrolled_on"),
        ("ben@", "hal@", "instructor_email"),
    ],
)
def test_a_faulty_student_keeps_all_students_out(
    school: TestSchool, old: str, new: str, column: str
) -> None:
    cleo = school.visitor("cleo")
    before = state_of(cleo)
    good = ZOE.replace("Zoë", "Yan").replace("zoe", "yan")
    found = told(upload(cleo, "\n".join([STUDENTS, good, ZOE.replace(old, new)]), 422))
    assert [row[:2] for row in found] == [["3", column]]
    assert state_of(cleo) == before


def test_the_same_student_twice_in_a_file_is_refused(school: TestSchool) -> None:
    found = told(upload(school.visitor("cleo"), f"{STUDENTS}\n{ZOE}\n{ZOE}\n", 422))
    assert found == [["3", "email", "This student stands in the file twice."]]


def test_one_faulty_row_among_thousands_keeps_all_of_them_out(school: TestSchool) -> None:
    made = make(20)
    cleo = school.visitor("cleo")
    commit(cleo, upload(cleo, made.students_csv))
    before = state_of(cleo)
    faulty = made.grades_csv + made.grades_csv.splitlines()[1].replace("preflight", "nonsense")
    (row,) = told(upload(cleo, faulty, 422))
    assert row[0] == str(faulty.count("\n") + 1)
    assert "no task 'nonsense'" in row[2]
    assert state_of(cleo) == before


def test_importing_the_same_lessons_again_is_refused(school: TestSchool) -> None:
    made = make(2)
    cleo = bring_in(school, made)
    before = state_of(cleo)
    found = told(upload(cleo, made.grades_csv, 422))
    assert len(found) == made.lessons
    assert {row[2] for row in found} == {"This lesson of that day is already on file."}
    again = told(upload(cleo, made.students_csv, 422))
    assert "Student No 001 is already in this course." in again[0][2]
    assert state_of(cleo) == before


@pytest.mark.parametrize("written", ["20260504", "2026-W19-1", "04.05.2026"])
def test_a_date_written_another_way_is_named_with_its_row(
    school: TestSchool, written: str
) -> None:
    text = "\n".join(GOOD).replace("2026-05-04", written)
    found = told(upload(school.visitor("cleo"), text, 422))
    assert "Type the date as year-month-day" in found[0][2]


def test_a_lesson_twice_in_one_file_by_two_instructors_is_refused(school: TestSchool) -> None:
    text = "\n".join([*GOOD, *(line.replace("ben@", "dov@") for line in GOOD[1:])])
    found = told(upload(school.visitor("cleo"), text, 422))
    assert [row[:2] for row in found] == [["5", "lesson"]]


def test_a_preview_that_no_longer_fits_writes_nothing(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    first, second = upload(cleo, lines()), upload(cleo, lines() + "\n")
    commit(cleo, first)
    before = state_of(cleo)
    assert "Faults in the file: 1; nothing was written." in commit(cleo, second)
    assert "You sent this file before: this is how it stands." in commit(cleo, first)
    assert state_of(cleo) == before


def test_only_the_chief_instructor_may_import(school: TestSchool) -> None:
    for name in ("ben", "eve", "flo", "gus", "ana"):
        who = school.visitor(name)
        who.get("/import", 403)
        assert "to import" not in upload(who, lines(), 403)
        who.send("/import/commit", {"digest": "0" * 64}, 403)
