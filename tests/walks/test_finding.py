"""A student is found from anywhere, by whoever may see them and by nobody else."""

import json

import pytest

from gradebook.records.names import is_meant
from gradebook.records.tables.people import Person
from tests.cast import TestSchool


def rename(school: TestSchool, who: str, name: str) -> None:
    with school.database.write() as session:
        session.get_one(Person, school.ids[who]).name = name


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("Jürgen Østby", "jurgen ost"),
        ("Jürgen Østby", "OST jür"),
        ("Müller", "u"),
        ("Zoë Łukasz", "zoe lu"),
        ("Straße", "strasse"),
        ("Ngoc Ánh Đào", "anh dao"),
    ],
)
def test_accents_case_and_order_do_not_matter(name: str, typed: str) -> None:
    assert is_meant(name, typed)


def test_every_word_typed_has_to_be_in_the_name() -> None:
    assert not is_meant("Jürgen Østby", "jurgen west")


def test_the_only_one_meant_is_opened_at_once(either_school: TestSchool) -> None:
    school = either_school
    rename(school, "ana", "Änne Østby")
    page = school.visitor("ben").get("/find?q=ANNE+ost")
    assert "<h1>Änne Østby</h1>" in page
    assert "What to work on" in page


def test_nobody_finds_a_student_who_is_not_theirs(either_school: TestSchool) -> None:
    school = either_school
    ben = school.visitor("ben")
    page = ben.get("/find?q=hal")
    assert "No student of yours has this name." in page
    assert "Hal" not in page
    for typed in ("h", "a", "", "%", "_", "hal ana"):
        told = ben.client.get(
            "/find", query_string={"q": typed}, headers={"Accept": "application/json"}
        )
        assert "Hal" not in json.loads(told.text)["names"], typed
    ana = school.visitor("ana")
    assert "Hal" not in ana.get("/find?q=hal")
    assert "<h1>Hal</h1>" in school.visitor("cleo").get("/find?q=hal")
    school.visitor("flo").get("/find?q=hal", 403)


def test_several_are_listed_with_their_courses(school: TestSchool) -> None:
    page = school.visitor("cleo").get("/find?q=a")
    assert "2 students" in page
    assert f"/students/{school.enrolment}" in page
    assert f"/students/{school.stranger_enrolment}" in page
    assert page.count("Small course, since") == 2


def test_the_field_is_on_every_page_of_those_who_have_students(school: TestSchool) -> None:
    assert 'action="/find"' in school.visitor("ben").get("/syllabus")
    assert 'action="/find"' in school.visitor("gus").get("/audit")
    assert 'action="/find"' not in school.visitor("ana").get("/syllabus")
    assert 'action="/find"' not in school.visitor("flo").get("/people")
