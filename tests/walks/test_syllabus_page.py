"""The page of a course, as whoever reads a syllabus does."""

import re

from tests.cast import TestSchool


def test_what_a_stage_asks_stands_in_words(school: TestSchool) -> None:
    ana = school.visitor("ana")
    course = re.search(r"/syllabus/\w{64}", ana.get("/syllabus"))
    assert course
    page = ana.get(course[0])
    asked = re.search(r"Before the check:(.*?)</p>", page, re.DOTALL)
    assert asked
    assert "Dual received at least" in asked[1]
    assert not asked[1].strip().endswith(";")
    assert not re.search(r"\b0 min\b", page)
