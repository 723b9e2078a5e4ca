"""Guessing is slowed down, and nobody can lock anybody else out by it."""

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from gradebook.records.commands import throttling
from gradebook.records.commands.throttling import Guess
from gradebook.records.faults import SlowDownError
from gradebook.records.tables.people import LoginAttempt
from tests.cast import SECRET, TestSchool, Visitor


def attempt(
    who: Visitor, name: str, secret: str, status: int, address: str = "192.0.2.1"
) -> str:
    """Try to sign in from an address."""
    who.get("/sign-in")
    fields = {"email": f"{name}@school.example", "secret": secret}
    environ = {"REMOTE_ADDR": address}
    return who.send("/sign-in", fields, status, environ_base=environ).text


def fail(who: Visitor, name: str, times: int, address: str = "192.0.2.1") -> None:
    for _ in range(times):
        attempt(who, name, "wrong", 422, address)


def test_after_five_failures_even_the_right_secret_waits_a_minute(
    either_school: TestSchool,
) -> None:
    thief = either_school.visitor()
    fail(thief, "ana", 5)
    assert "Wait 1 min" in attempt(thief, "ana", SECRET, 429)
    either_school.clock.pass_minutes(1)
    attempt(thief, "ana", SECRET, 200)


def test_each_further_failure_doubles_the_wait_up_to_a_quarter_of_an_hour(
    school: TestSchool,
) -> None:
    thief = school.visitor()
    fail(thief, "ana", 5)
    for minutes in (1, 2, 4, 8, 15, 15):
        school.clock.pass_minutes(minutes - 0.1)
        attempt(thief, "ana", "wrong", 429)
        school.clock.pass_minutes(0.1)
        attempt(thief, "ana", "wrong", 422)


def test_being_told_to_wait_does_not_make_the_wait_longer(school: TestSchool) -> None:
    thief = school.visitor()
    fail(thief, "ana", 5)
    for _ in range(20):
        attempt(thief, "ana", "wrong", 429)
    school.clock.pass_minutes(1)
    attempt(thief, "ana", SECRET, 200)


def test_a_thief_cannot_lock_out_a_browser_that_is_known(either_school: TestSchool) -> None:
    school, same = either_school, "192.0.2.1"
    ana = school.visitor()
    attempt(ana, "ana", SECRET, 200, same)
    ana.post("/sign-out")
    thief = school.visitor()
    fail(thief, "ana", 5, same)
    attempt(thief, "ana", SECRET, 429, same)
    attempt(ana, "ana", SECRET, 200, same)


def test_a_known_browser_is_slowed_down_too(school: TestSchool) -> None:
    ana = school.visitor()
    attempt(ana, "ana", SECRET, 200)
    ana.post("/sign-out")
    fail(ana, "ana", 5)
    attempt(ana, "ana", SECRET, 429)


def test_one_known_browser_does_not_lock_another_out(school: TestSchool) -> None:
    phone, laptop = school.visitor(), school.visitor()
    for who in (phone, laptop):
        attempt(who, "ana", SECRET, 200)
        who.post("/sign-out")
    fail(phone, "ana", 5)
    attempt(phone, "ana", SECRET, 429)
    attempt(laptop, "ana", SECRET, 200)


def test_a_browser_known_for_one_person_is_not_known_for_another(school: TestSchool) -> None:
    ana = school.visitor()
    attempt(ana, "ana", SECRET, 200)
    ana.post("/sign-out")
    fail(school.visitor(), "ben", 5)
    attempt(ana, "ben", SECRET, 429)


def test_a_hundred_failures_from_everywhere_leave_only_known_browsers(
    either_school: TestSchool,
) -> None:
    school = either_school
    ana = school.visitor()
    attempt(ana, "ana", SECRET, 200)
    ana.post("/sign-out")
    with school.database.write() as session:
        for number in range(100):
            guess = Guess(throttling.secret_of("ana@school.example"), f"198.51.100.{number}")
            throttling.begin(session, guess, school.clock.at)
    words = attempt(school.visitor(), "ana", SECRET, 429, "203.0.113.9")
    assert "Use a browser you have signed in with before" in words
    attempt(ana, "ana", SECRET, 200)
    attempt(school.visitor(), "ana", SECRET, 200, "203.0.113.9")


def test_every_cause_of_failure_has_the_same_words(school: TestSchool) -> None:
    flo = school.visitor("flo")
    flo.get(f"/people/{school.ids['hal']}")
    flo.post(f"/people/{school.ids['hal']}", roles="student")  # not ticked: may sign in
    who = school.visitor()
    for name, secret in (("ana", "wrong"), ("nobody", SECRET), ("hal", SECRET)):
        assert "E-mail address and secret do not match." in attempt(who, name, secret, 422)


def test_attempts_at_once_are_all_counted_before_any_is_checked(
    either_school: TestSchool,
) -> None:
    guess = Guess(throttling.secret_of("ana@school.example"), "192.0.2.1")
    heard = 0
    for _ in range(100):
        try:
            with either_school.database.write() as session:
                throttling.begin(session, guess, either_school.clock.at)
            heard += 1
        except SlowDownError:
            pass
    assert heard == throttling.FREE


def test_failures_survive_a_restart_and_are_forgotten_after_a_month(
    either_school: TestSchool,
) -> None:
    school = either_school
    fail(school.visitor(), "ana", 3)
    with school.database.read() as session:
        assert session.scalar(select(func.count()).select_from(LoginAttempt)) == 6
    school.clock.at += timedelta(days=31)
    school.visitor("ben")
    with school.database.read() as session:
        assert session.scalar(select(func.count()).select_from(LoginAttempt)) == 0


@pytest.mark.parametrize("name", ["ana", "nobody"])
def test_what_was_typed_in_vain_is_kept_nowhere_in_clear(school: TestSchool, name: str) -> None:
    attempt(school.visitor(), name, "my dear secret", 422)
    with school.database.read() as session:
        kept = [row.subject for row in session.scalars(select(LoginAttempt))]
    assert kept
    assert all(len(one) == 64 and name not in one for one in kept)
