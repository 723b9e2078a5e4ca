"""The school watch: what stage checks say of instructors, and what a revision changed."""

import csv
import html
import io
import re
from dataclasses import replace

from gradebook.records.commands import enrolling, needling
from gradebook.records.store.outcomes import foretelling
from gradebook.records.store.watched import watched
from tests.cast import TestSchool
from tests.generator import Made, make
from tests.small_course import FILES
from tests.walks.test_import import bring_in, commit, upload

EXPLORE = "/school/charts/{}", "/school/charts/{}.csv"


def named(made: Made, word: str) -> Made:
    """The same files of other students."""

    def other(text: str) -> str:
        return text.replace("student", word).replace(f"{word}_email", "student_email")

    return replace(
        made, students_csv=other(made.students_csv), grades_csv=other(made.grades_csv)
    )


def without(made: Made, *words: str) -> Made:
    """The same files without the rows of these lessons or tasks."""
    rows = csv.reader(io.StringIO(made.grades_csv))
    text, kept = io.StringIO(), (row for row in rows if not {*words} & {*row})
    csv.writer(text).writerows(kept)
    return replace(made, grades_csv=text.getvalue())


def refit(school: TestSchool) -> None:
    with school.database.write() as session:
        assert needling.refit(session, school.clock.at) is not None


def test_stage_checks_stand_on_the_instructors_page(either_school: TestSchool) -> None:
    school = either_school
    cleo = bring_in(school, make(students=24))
    assert "Severity is not fitted yet" in cleo.get("/school/instructors")
    refit(school)
    page = cleo.get("/school/instructors")
    assert "just before stage checks" in page
    assert "next stage check" in page
    for key in ("before-checks", "checked"):
        large, table = (address.format(key) for address in EXPLORE)
        assert large in page
        assert table in page
        assert "Instructors" in cleo.get(large)
        lines = cleo.get(table).splitlines()
        assert lines[0].startswith("Instructor,")
        assert len(lines) >= 2
        assert "Ben" in "".join(lines)


def test_numbers_below_zero_have_a_minus_on_the_page_and_a_hyphen_in_the_file(
    school: TestSchool,
) -> None:
    cleo = bring_in(school, make(students=24))
    refit(school)
    page, file = cleo.get("/school/instructors"), cleo.get(EXPLORE[1].format("severity"))
    shown = re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL)
    assert re.search(r"\N{MINUS SIGN}\d\.\d\d", shown)
    assert re.findall(r".{60}[\s(>]-\d.{20}", shown) == []
    assert re.search(r",-\d\.\d", file)


def test_too_few_stage_checks_are_said(school: TestSchool) -> None:
    bring_in_file(school, without(make(students=30), "s-check", "s-last"))
    refit(school)
    page = school.visitor("cleo").get("/school/instructors")
    assert "Too few stage checks" in page
    assert "0 stage checks by somebody else" in page


def bring_in_file(school: TestSchool, made: Made) -> None:
    """Cleo imports both files, whatever sums they come to."""
    cleo = school.visitor("cleo")
    for name in ("students", "grades"):
        cleo.get("/import")
        preview = upload(cleo, getattr(made, f"{name}_csv"), name=f"{name}.csv")
        commit(cleo, preview)


def test_two_revisions_stand_side_by_side_on_the_progress_page(
    either_school: TestSchool,
) -> None:
    school = either_school
    cleo = bring_in(school, make(students=12))
    page = cleo.get("/school/progress")
    assert "No second revision to compare with" in page
    cleo.get("/school/charts/revisions", status=404)
    cleo.get("/school/charts/revisions.csv", status=404)
    school.clock.pass_minutes(14.5 * 60)  # half past midnight at the school, not yet in UTC
    newer = {**FILES, "course.toml": FILES["course.toml"].replace("For tests.", "Again.")}
    with school.database.write() as session:
        published = enrolling.publish(session, newer, school.clock.at)
        words = f"revision {published.id[:8]} of 21 May 2026"
    cleo = school.visitor("cleo")
    assert "No second revision" in cleo.get("/school/progress")
    bring_in(school, named(make(students=12, seed=8), "pupil"))
    page = cleo.get("/school/progress")
    assert "What the newer revision changed" in page
    assert words in page
    assert "20 May 2026" not in page
    assert "still counted" in page
    large, table = (address.format("revisions") for address in EXPLORE)
    assert "Log-rank p" in cleo.get(large)
    assert cleo.get(table).splitlines()[0].startswith("Task,revision ")
    assert words in cleo.get(table)
    for path in ("/school/progress", large):
        german = cleo.client.get(path, headers={"Accept-Language": "de"}).text
        assert f"Fassung {published.id[:8]} vom 21. Mai 2026" in html.unescape(german)
        assert "revision " not in german.partition("<main")[2].partition("</main>")[0]


def without_shutdown() -> dict[str, str]:
    """The small course without its last task."""
    tasks = FILES["tasks/all.toml"]
    asked = '  { task = "shutdown", target = "practice" },\n'
    return {
        **FILES,
        "course.toml": FILES["course.toml"].replace(', "shutdown"', ""),
        "tasks/all.toml": tasks[: tasks.index('[[task]]\ncode = "shutdown"')],
        "stages/1.toml": FILES["stages/1.toml"].replace(asked, ""),
    }


def test_a_task_the_newer_revision_dropped_breaks_no_page(school: TestSchool) -> None:
    cleo = bring_in(school, make(students=8))
    school.clock.pass_days(1)
    with school.database.write() as session:
        enrolling.publish(session, without_shutdown(), school.clock.at)
    newer = named(without(make(students=8, seed=8), "shutdown"), "pupil")
    first_by_name = newer.students_csv.replace("Student", "A student")
    bring_in_file(school, replace(newer, students_csv=first_by_name))
    cleo = school.visitor("cleo")
    for page in ("", "/progress", "/instructors", "/forecasts"):
        cleo.get(f"/school{page}")
    assert "Shutdown" in cleo.get("/school")
    assert "Shutdown" not in cleo.get("/school/progress")
    with school.database.read() as session:
        chief = school.act(session, "cleo").actor
        watch = watched(session, chief, school.clock.at.date(), "", "UTC").course
        assert foretelling(session, chief, "").course == watch
