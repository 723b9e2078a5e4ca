"""Nobody, of whatever role, gets an answer out of the server that it did not mean."""

import pytest

from tests.cast import TestSchool
from tests.faults.asking import asking, names_in
from tests.faults.openapi import described, operations
from tests.walks.test_main_job import open_card, sign_first_lesson

ROLES = ("ana", "ben", "eve", "cleo", "flo", "gus", None)
EACH = 8


def test_every_route_is_described_and_nothing_else(school: TestSchool) -> None:
    paths = described(school.app, names_in(school))["paths"]
    told = [said["operationId"] for one in paths.values() for said in one.values()]
    there = [f"{rule.endpoint}:{method}" for rule, method in operations(school.app)]
    assert sorted(told) == sorted(there)
    assert len(set(told)) > 50


@pytest.mark.parametrize("name", ROLES)
def test_no_request_makes_the_server_fail(school: TestSchool, name: str | None) -> None:
    sign_first_lesson(school)
    open_card(school.visitor("ben"), school, "s-02")
    asked = asking(school, name, EACH)
    assert asked.faults == []
    assert asked.requests > 100
    assert asked.answers[400] == 0  # the token of the form was right each time


def test_a_view_that_falls_over_is_found_out(school: TestSchool) -> None:
    def planted() -> str:
        raise ZeroDivisionError

    school.app.view_functions["students.index"] = planted
    asked = asking(school, None, 1, only="students.index")
    assert asked.faults == []  # nobody gets that far
    asked = asking(school, "ben", 1, only="students.index")
    assert asked.answers[500] == 1
    assert len(asked.faults) == 1
