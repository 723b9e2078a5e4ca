"""Import through the pages: what the program shows agrees with the generator's own sums."""

import io
import os
import re
from html import unescape

from tests.cast import TestSchool, Visitor
from tests.generator import ERRORS, Made, StudentSums, make
from tests.small_course import FILES

ROW = re.compile(r"<tr\b.*?</tr>", re.DOTALL)
CELL = re.compile(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", re.DOTALL)
MARK = re.compile(r"<svg.*?</svg>|<[^>]+>", re.DOTALL)
LINK = re.compile(r'href="/students/([^"/]+)">(Student No \d+)<')


def rows(page: str) -> list[list[str]]:
    """The text of every cell of every table row of a page, pictures left out."""
    return [
        [" ".join(unescape(MARK.sub(" ", cell)).split()) for cell in CELL.findall(row)]
        for row in ROW.findall(page)
    ]


def upload(
    who: Visitor, data: str | bytes, status: int = 200, name: str = "", reason: str = ""
) -> str:
    """Choose a file and ask for its preview."""
    content = data if isinstance(data, bytes) else data.encode()
    named = name or ("old.xlsx" if content.startswith(b"PK") else "old.csv")
    sent = {"file": (io.BytesIO(content), named), "reason": reason}
    return who.send("/import/preview", sent, status, content_type="multipart/form-data").text


def commit(who: Visitor, preview: str) -> str:
    """Say yes to a preview; the page it leads to."""
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', preview)
    reason = re.search(r'name="reason" value="([^"]*)"', preview)
    assert found, preview[:2000]
    assert reason, preview[:2000]
    sent = {"digest": found[1], "reason": unescape(reason[1])}
    return who.send("/import/commit", sent).text


def bring_in(school: TestSchool, made: Made) -> Visitor:
    """Cleo imports both files, looking at each preview."""
    cleo = school.visitor("cleo")
    cleo.get("/import")
    preview = upload(cleo, made.students_csv, name="students.csv")
    assert f"{len(made.students)} students to import" in preview
    assert f"students.csv · {len(made.students)} rows · nothing is written yet" in preview
    assert f"{len(made.students)} students imported." in commit(cleo, preview)
    preview = upload(cleo, made.grades_csv, name="grades.csv")
    assert f"{made.lessons} lessons with {made.grades} grades to import" in preview
    assert f"grades.csv · {made.grades} rows · nothing is written yet" in preview
    done = f"{made.lessons} lessons with {made.grades} grades imported."
    assert done in commit(cleo, preview)
    return cleo


def enrolments(cleo: Visitor) -> dict[str, str]:
    """The address of each imported student's page by name."""
    return {name: row for row, name in LINK.findall(cleo.get("/students"))}


def test_everything_shown_after_an_import_agrees_with_the_files(
    either_school: TestSchool,
) -> None:
    made = make()
    assert made.grades >= 2000
    cleo = bring_in(either_school, made)
    check_list(cleo, either_school, made)
    ids = enrolments(cleo)
    for one in made.students[::13]:
        check_folder(cleo, ids[one.name], one)
        check_tasks(cleo, ids[one.name], one)
    check_school_watch(cleo, made)
    check_board(cleo, made)
    audit = cleo.get("/audit?prove=1")
    assert "Everything is as it was signed</h2>" in audit
    assert "0 records unsigned, 0 not acknowledged" in audit
    assert f"lessons: {made.lessons}, grades: {made.grades}" in audit


def check_list(cleo: Visitor, school: TestSchool, made: Made) -> None:
    """Number of students, and of each the next lesson, lessons and days since the last."""
    page = cleo.get("/students")
    assert f"<h1>{len(made.students) + 2} students" in page
    shown = {row[0]: row for row in rows(page)}
    for one in made.students:
        row = shown[one.name]
        following = row[2].split()[0].lower() if one.next_lesson else ""
        assert following == one.next_lesson
        assert int(row[4]) == one.lessons
        assert int(row[7]) == (school.clock.at.date() - one.last_day).days


def check_folder(cleo: Visitor, enrolment: str, one: StudentSums) -> None:
    """Number of records, and the hours they come to."""
    page = cleo.get(f"/students/{enrolment}/records")
    assert f"{one.lessons} signed records</h2>" in page
    table = rows(page)[1:]
    assert len(table) == one.lessons
    assert round(60 * sum(float(row[3]) for row in table)) == one.dual
    assert round(60 * sum(float(row[4]) for row in table)) == one.solo
    assert all("from earlier records" in row[6] for row in table)


def check_tasks(cleo: Visitor, enrolment: str, one: StudentSums) -> None:
    """n and met of each task, the last grade, and the marks of each error."""
    for task, words in error_words().items():
        page = cleo.get(f"/students/{enrolment}/tasks/{task}")
        n = one.counted[task]
        lessons = f"{n} lesson{'s' if n > 1 else ''}"
        assert f"at target in {one.met[task]} of {lessons}</h2>" in page
        table = rows(page.split("Every grade")[1])
        grades = [row[1] for row in table if re.match(r"\d+ \w{3} \d{4}$", row[0])]
        counted = [grade for grade in grades if "Not observed" not in grade]
        assert one.last[task].capitalize() in counted[0]
        assert len(counted) == n
        marked = {row[0]: row[2] for row in table if row[0] in words.values()}
        for code, said in words.items():
            if one.errors[code]:
                assert marked[said] == f"{one.errors[code]} of {n}"
            else:
                assert said not in marked


def error_words() -> dict[str, dict[str, str]]:
    """What each error of each task is called in the course's own files."""
    text = FILES["tasks/all.toml"]
    return {
        task: {
            code: re.findall(f'code = "{code}", words = "([^"]+)"', text)[0] for code in codes
        }
        for task, codes in ERRORS.items()
    }


def check_school_watch(cleo: Visitor, made: Made) -> None:
    """Marks of opportunities of each error, and how many students made it."""
    shown = {row[0]: row for row in rows(cleo.get("/school")) if len(row) == 5}
    marks, opportunities = made.marks(), made.opportunities()
    for task, words in error_words().items():
        for code, said in words.items():
            row = shown[said]
            assert int(row[3]) == made.makers(code)
            assert row[4].endswith(f"{marks[code]} of {opportunities[task]}")


def check_board(cleo: Visitor, made: Made) -> None:
    """Which check each student is before, hours that are enough, safety-critical items."""
    page = cleo.get("/readiness")
    assert f"of {len(made.students) + 2} students ready" in page
    shown = {row[0]: row for row in rows(page)}
    for one in made.students:
        row = shown[one.name]
        in_first = one.next_lesson == "s-check"
        assert row[1] == ("First stage" if in_first else "Second stage")
        enough = int(one.dual >= 120)
        assert row[3] == (f"{enough} of 1" if in_first else "")
        assert ("afety-critical" in row[-1]) == one.is_critical


def test_an_imported_record_says_where_it_comes_from(school: TestSchool) -> None:
    made = make(2)
    cleo = bring_in(school, made)
    enrolment = enrolments(cleo)["Student No 001"]
    found = re.findall(r'href="(/records/[^"]+)"', cleo.get(f"/students/{enrolment}/records"))
    record = cleo.get(found[-1])
    assert "Unaltered since it was signed." in record
    assert "entered from earlier records" in record


def test_a_file_nobody_came_back_for_is_forgotten_after_a_day(school: TestSchool) -> None:
    cleo, made = school.visitor("cleo"), make()
    preview = upload(cleo, made.students_csv)
    (waiting,) = (school.settings.data / "imports").iterdir()
    for hours, stays in ((23, True), (25, False)):
        moment = school.clock.at.timestamp() - hours * 3600
        os.utime(waiting, (moment, moment))
        upload(cleo, made.grades_csv, 422)
        assert waiting.exists() is stays
    assert "The file is not here any more" in commit(cleo, preview)
