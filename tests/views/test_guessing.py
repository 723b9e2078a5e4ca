"""Guessing a secret is slowed down wherever one is typed."""

import pytest

from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import sign_first_lesson

GUESSES, OTHER = 5, "another sentence, longer than any"


@pytest.fixture
def doors(school: TestSchool) -> dict[str, tuple[str, dict[str, str]]]:
    """Where Ben can type his own secret besides signing: address and the other fields."""
    sign_first_lesson(school)
    watch = {"task": "run-up", "error": "RU-04", "reason": "Explained."}
    return {
        "own secret": ("/secret", {"new_secret": OTHER, "again": OTHER}),
        "watch item": (f"/students/{school.enrolment}/watch", watch),
    }


@pytest.mark.parametrize("door", ["own secret", "watch item"])
def test_after_five_wrong_secrets_the_right_one_must_wait(
    school: TestSchool, doors: dict[str, tuple[str, dict[str, str]]], door: str
) -> None:
    path, fields = doors[door]
    ben = school.visitor("ben")
    ben.get("/")
    for _ in range(GUESSES):
        data = {"csrf_token": ben.token, **fields, "secret": "wrong"}
        assert ben.client.post(path, data=data).status_code in (303, 422)
    ben.get("/")
    refused = ben.send(path, {**fields, "secret": SECRET}, 429).text
    assert "Too many failed attempts. Wait 1 min, then try again." in refused


def test_a_clock_set_back_makes_nobody_wait_for_one_slip(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.get("/")
    fields = {"new_secret": OTHER, "again": OTHER}
    ben.send("/secret", {**fields, "secret": "wrong"}, 422)
    school.clock.pass_days(-2)
    ben.send("/secret", {**fields, "secret": SECRET})
