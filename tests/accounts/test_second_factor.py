"""The second factor: had by everybody but students, shown once, never got around."""

import pytest
from sqlalchemy import select

from gradebook.records.tables.people import RecoveryCode, SecondFactor
from tests.accounts.holding import OWN, Generator, enrolled, sign_in
from tests.cast import SECRET, TestSchool, Visitor

WRONG = "This code is not right, or it was used before."


def second(who: Visitor, code: str, status: int = 200) -> str:
    return who.post("/sign-in/second", status, code=code)


def waiting(school: TestSchool, name: str, path: str = "/") -> Visitor:
    """Somebody after the first step only."""
    who = sign_in(school, name)
    assert "Show your second factor" in who.get(path)
    return who


@pytest.mark.parametrize("name", ["ben", "cleo", "eve", "flo", "gus"])
def test_everybody_but_a_student_is_led_to_add_one_first(
    strict_school: TestSchool, name: str
) -> None:
    who = strict_school.visitor(name)
    for path in ("/", "/students", "/people", "/audit", "/syllabus"):
        answer = who.client.get(path, follow_redirects=True)
        assert answer.status_code == 403 or "Your role needs a second factor." in answer.text
    Generator(strict_school, who)
    assert "Your role needs a second factor." not in who.get("/")


def test_a_student_may_go_without(strict_school: TestSchool) -> None:
    assert "First lesson" in strict_school.visitor("ana").get("/")


def test_a_code_is_asked_for_at_the_next_sign_in(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    _, generator = enrolled(school, "ben")
    who = waiting(school, "ben")
    assert "Today" in second(who, generator.code())
    assert "Your students" in who.get("/") or "students" in who.get("/")


def test_a_session_that_waits_can_do_nothing_else(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    enrolled(school, "cleo")
    who = waiting(school, "cleo")
    for path in ("/students", "/people", "/account", "/account/factors/code", "/secret"):
        assert "Show your second factor" in who.get(path), path
        answer = who.client.get(path, headers={"Accept": "application/json"})
        assert answer.status_code == 401, path
    data = {"csrf_token": who.token, "secret": SECRET, "new_secret": OWN, "again": OWN}
    assert who.client.post("/secret", data=data).status_code == 303
    assert "Show your second factor" in sign_in(school, "cleo").get("/")
    assert "Cleo" not in who.get("/")


def test_a_code_counts_once(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    _, generator = enrolled(school, "ben")
    code = generator.code()
    second(waiting(school, "ben"), code)
    again = waiting(school, "ben")
    assert WRONG in second(again, code, 422)
    assert WRONG in second(again, generator.code(-1), 422)
    assert "Today" in second(again, generator.code(1))


def test_guessing_codes_is_slowed_down(strict_school: TestSchool) -> None:
    school = strict_school
    _, generator = enrolled(school, "ben")
    thief = waiting(school, "ben")
    for _ in range(5):
        second(thief, "000000", 422)
    assert "Wait 1 min" in second(thief, generator.code(), 429)
    assert "Wait 1 min" in second(waiting(school, "ben"), generator.code(), 429)
    school.clock.pass_minutes(1)
    assert "Today" in second(thief, generator.code())


def test_a_recovery_code_stands_in_once(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    _, generator = enrolled(school, "ben")
    assert len(set(generator.recovery)) == 10
    code = generator.recovery[3]
    page = second(waiting(school, "ben"), code.upper().replace("-", " "))
    assert "A recovery code is used up; 9 are left." in page
    assert WRONG in second(waiting(school, "ben"), code, 422)


def test_new_recovery_codes_make_the_old_void(strict_school: TestSchool) -> None:
    school = strict_school
    who, generator = enrolled(school, "ben")
    who.get("/account")
    page = who.post("/account/recovery-codes")
    assert "Ten recovery codes, shown this once" in page
    assert generator.recovery[0] not in page
    assert WRONG in second(waiting(school, "ben"), generator.recovery[0], 422)


def test_factors_are_not_in_clear_in_the_database(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    _, generator = enrolled(school, "ben")
    with school.database.read() as session:
        row = session.scalars(select(SecondFactor)).one()
        digests = {one.digest for one in session.scalars(select(RecoveryCode))}
    assert generator.totp.secret.encode() not in row.sealed
    assert generator.totp.byte_secret() not in row.sealed
    assert not digests & {code.replace("-", "") for code in generator.recovery}


def test_a_generator_is_added_only_when_it_shows_a_code(strict_school: TestSchool) -> None:
    who = strict_school.visitor("ben")
    page = who.get("/account/factors/code")
    assert 'src="data:image/svg+xml' in page
    sealed = page.split('name="sealed"')[1].split('value="')[1].split('"')[0]
    again = who.post("/account/factors/code", 422, sealed=sealed, code="000000")
    assert "This is not the code of this generator." in again
    assert sealed in again
    assert "Your role needs a second factor." in who.get("/")


def test_a_generator_offered_to_another_cannot_be_added(strict_school: TestSchool) -> None:
    ben, dov = strict_school.visitor("ben"), strict_school.visitor("dov")
    page = ben.get("/account/factors/code")
    sealed = page.split('name="sealed"')[1].split('value="')[1].split('"')[0]
    dov.get("/account/factors/code")
    for forged in (sealed, "00", "zz"):
        dov.post("/account/factors/code", 422, sealed=forged, code="000000")


def test_factors_change_only_after_one_was_shown_a_moment_ago(
    either_strict_school: TestSchool,
) -> None:
    school = either_strict_school
    who, generator = enrolled(school, "ben")
    school.clock.pass_minutes(10)
    assert "Show your second factor" in who.get("/account/factors/code")
    who.get("/account")
    assert "Show your second factor" in who.post("/account/recovery-codes")
    answer = who.send("/sign-in/second", {"code": generator.code(), "next": "/account"})
    assert answer.request.path == "/account"
    assert "Ten recovery codes" in who.post("/account/recovery-codes")


def test_somebody_without_one_types_the_secret_again_first(strict_school: TestSchool) -> None:
    school = strict_school
    ana = school.visitor("ana")
    school.clock.pass_minutes(11)
    assert "Type your secret again" in ana.get("/account/factors/code")
    ana.post("/sign-in/second", 422, secret="wrong")
    page = ana.post("/sign-in/second", secret=SECRET, next="/account/factors/code")
    assert "Add a code generator" in page


def remove(who: Visitor, secret: str, status: int = 200) -> str:
    page = who.get("/account")
    path = page.split('/remove"')[0].rsplit('href="', 1)[1] + "/remove"
    who.get(path)
    return who.post(path, status, secret=secret)


def test_the_last_factor_of_an_instructor_stays(strict_school: TestSchool) -> None:
    who, _ = enrolled(strict_school, "ben")
    assert "Your role needs a second factor" in remove(who, SECRET, 422)


def test_a_second_generator_replaces_a_first(either_strict_school: TestSchool) -> None:
    school = either_strict_school
    who, old = enrolled(school, "ben")
    new = Generator(school, who)
    assert new.recovery == []
    school.clock.pass_minutes(1)
    assert "is removed" in remove(who, SECRET)
    again = waiting(school, "ben")
    assert WRONG in second(again, old.code(), 422)
    assert "Today" in second(again, new.code())


def test_removing_a_factor_takes_the_secret(strict_school: TestSchool) -> None:
    who, _ = enrolled(strict_school, "ana")
    assert "This is not the secret of this account." in remove(who, "wrong", 422)
    assert "is removed" in remove(who, SECRET)
    assert "Your secret stands alone." in who.get("/account")
    assert "First lesson" in sign_in(strict_school, "ana").get("/")


def test_a_short_secret_cannot_be_left_standing_alone(strict_school: TestSchool) -> None:
    school, short = strict_school, "vT7!qz#9"
    who, generator = enrolled(school, "ana")
    who.get("/secret")
    who.post("/secret", secret=SECRET, new_secret=short, again=short, code=generator.code())
    school.clock.pass_minutes(1)
    assert "shorter than 15 characters: change it first" in remove(who, short, 422)


def test_nobody_removes_anothers_factor(strict_school: TestSchool) -> None:
    school = strict_school
    enrolled(school, "cleo")
    ben, _ = enrolled(school, "ben")
    with school.database.read() as session:
        query = select(SecondFactor.id).where(SecondFactor.person_id == school.ids["cleo"])
        theirs = session.scalars(query).one()
    ben.get(f"/account/factors/{theirs}/remove", 404)
    ben.post(f"/account/factors/{theirs}/remove", 404, secret=SECRET)
