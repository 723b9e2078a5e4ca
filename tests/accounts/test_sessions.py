"""Sessions: who is signed in where, for how long, and how it ends."""

import dataclasses

import pytest
from sqlalchemy import select

from gradebook.app import create_app
from gradebook.records.commands import keyring
from gradebook.records.store import people
from gradebook.records.tables.people import LoginSession
from tests.accounts.holding import enrolled, hidden, sign_in
from tests.cast import SECRET, TestSchool, Visitor

COOKIE = "windtee_session"
JSON = {"Accept": "application/json"}


def is_in(who: Visitor) -> bool:
    """Whether this browser is signed in."""
    answer = who.client.get("/", headers=JSON)
    assert answer.status_code in (200, 303, 401)
    return answer.status_code != 401


def cookie_of(who: Visitor) -> str:
    found = who.client.get_cookie(COOKIE)
    assert found is not None
    return found.value


@pytest.mark.parametrize(
    ("name", "minutes", "stays"),
    [("ana", 60, True), ("ana", 61, False), ("ben", 60, True), ("ben", 61, False),
     ("cleo", 30, True), ("cleo", 31, False), ("flo", 30, True), ("flo", 31, False)],
)  # fmt: skip
def test_an_idle_session_dies_sooner_for_the_roles_of_power(
    school: TestSchool, name: str, minutes: int, stays: bool
) -> None:
    who = school.visitor(name)
    school.clock.pass_minutes(minutes)
    assert is_in(who) is stays


def test_a_session_that_is_used_lives_twelve_hours_and_no_longer(
    either_school: TestSchool,
) -> None:
    who = either_school.visitor("ana")
    for _ in range(12):
        either_school.clock.pass_minutes(60)
        assert is_in(who)
    either_school.clock.pass_minutes(1)
    assert not is_in(who)


def test_the_database_keeps_neither_cookie_nor_open_key(either_school: TestSchool) -> None:
    who = either_school.visitor("ana")
    with either_school.database.read() as session:
        row = session.scalars(select(LoginSession)).one()
    assert cookie_of(who) not in (row.id, row.agent, row.address)
    assert row.held_key
    assert either_school.keys["ana"].seed not in row.held_key


def test_the_cookie_changes_at_sign_in_and_at_the_second_factor(
    strict_school: TestSchool,
) -> None:
    _, generator = enrolled(strict_school, "ben")
    who = sign_in(strict_school, "ben")
    waiting = cookie_of(who)
    who.post("/sign-in/second", code=generator.code())
    assert cookie_of(who) != waiting
    who.client.set_cookie(COOKIE, waiting)
    assert not is_in(who)


def test_a_cookie_somebody_else_chose_is_never_adopted(school: TestSchool) -> None:
    who = school.visitor()
    who.client.set_cookie(COOKIE, "chosen")
    who.get("/sign-in")
    who.post("/sign-in", email="ana@school.example", secret=SECRET)
    assert cookie_of(who) != "chosen"


def test_the_page_names_every_browser_and_ends_one(either_school: TestSchool) -> None:
    school = either_school
    phone, laptop = school.visitor("ana"), school.visitor()
    laptop.client.environ_base["HTTP_USER_AGENT"] = "Mozilla/5.0 (X11; Linux) Firefox/140.0"
    laptop.get("/sign-in")
    laptop.post("/sign-in", email="ana@school.example", secret=SECRET)
    page = phone.get("/account/sessions")
    assert "Signed in on 2 browsers" in page
    assert "Firefox on Linux" in page
    assert "127.0.0.1" in page
    phone.post("/account/sessions/end", session=hidden(page, "session"))
    assert is_in(phone)
    assert not is_in(laptop)


def test_all_others_are_ended_at_once(school: TestSchool) -> None:
    first, second, here = (school.visitor("ana") for _ in range(3))
    stranger = school.visitor("ben")
    here.get("/account/sessions")
    here.post("/account/sessions/end-others")
    assert [is_in(who) for who in (first, second, here, stranger)] == [False, False, True, True]


def test_nobody_ends_a_session_of_somebody_else(school: TestSchool) -> None:
    ben, ana = school.visitor("ben"), school.visitor("ana")
    with school.database.read() as session:
        query = select(LoginSession.id).where(LoginSession.person_id == school.ids["ben"])
        theirs = session.scalars(query).one()
    ana.get("/account/sessions")
    ana.post("/account/sessions/end", 404, session=theirs)
    assert is_in(ben)


def test_signing_out_ends_the_session_itself(school: TestSchool) -> None:
    who = school.visitor("ana")
    kept = cookie_of(who)
    who.get("/account")
    who.post("/sign-out")
    who.client.set_cookie(COOKIE, kept)
    assert not is_in(who)


def test_an_administrator_ends_a_persons_sessions(either_school: TestSchool) -> None:
    ana, flo = either_school.visitor("ana"), either_school.visitor("flo")
    path = f"/people/{either_school.ids['ana']}"
    assert "signed in on 1 browser" in flo.get(path)
    assert "signed in on 0 browsers" in flo.post(f"{path}/end-sessions")
    assert not is_in(ana)
    assert is_in(either_school.visitor("ana"))


def test_closing_an_account_ends_all_it_had_open(either_school: TestSchool) -> None:
    school = either_school
    ben, flo = school.visitor("ben"), school.visitor("flo")
    path = f"/people/{school.ids['ben']}"
    flo.get(path)
    flo.post(f"{path}/link")
    page = flo.post(path, roles="instructor", certificate="C-ben")
    assert "withdrawn" in page
    assert not is_in(ben)
    assert ben.client.get("/students").status_code == 303
    assert not is_in(sign_in(school, "ben", status=422))
    flo.send(path, {"roles": "instructor", "certificate": "C-ben", "active": "y"})
    assert not is_in(ben)
    assert is_in(school.visitor("ben"))


def test_a_session_of_a_closed_account_is_dead_even_if_it_is_still_there(
    school: TestSchool,
) -> None:
    ben = school.visitor("ben")
    with school.database.write() as session:
        people.person(session, school.ids["ben"]).active = False
    assert not is_in(ben)


def test_a_changed_secret_ends_every_other_session_and_opens_the_same_key(
    either_school: TestSchool,
) -> None:
    school, new = either_school, "nine lives of kites on a hill"
    here, there = school.visitor("ana"), school.visitor("ana")
    here.get("/secret")
    here.post("/secret", secret=SECRET, new_secret=new, again=new)
    assert is_in(here)
    assert not is_in(there)
    assert not is_in(sign_in(school, "ana", status=422))
    assert is_in(sign_in(school, "ana", new))
    with school.database.read() as session:
        key = keyring.unlock(session, school.ids["ana"], new)
    assert key == school.keys["ana"]


def test_a_new_secret_typed_in_two_ways_is_not_taken(school: TestSchool) -> None:
    ana = school.visitor("ana")
    ana.get("/secret")
    page = ana.post(
        "/secret", 422, secret=SECRET, new_secret="one thing said twice", again="another"
    )
    assert "This is not the same as above." in page
    assert is_in(sign_in(school, "ana"))


def test_over_https_the_cookie_is_bound_to_this_host(school: TestSchool) -> None:
    app = create_app(dataclasses.replace(school.settings, secure_cookies=True))
    who = Visitor(app.test_client())
    base = {"base_url": "https://localhost"}
    token = hidden(who.client.get("/sign-in", **base).text, "csrf_token")
    fields = {"csrf_token": token, "email": "ana@school.example", "secret": SECRET}
    headers = {"Referer": "https://localhost/sign-in", "Origin": "https://localhost"}
    answer = who.client.post("/sign-in", data=fields, headers=headers, **base)
    sent = [one for one in answer.headers.getlist("Set-Cookie") if "__Host-windtee" in one]
    assert len(sent) == 2
    for one in sent:
        assert {"Secure", "HttpOnly", "Path=/"} <= set(one.split("; "))
        assert "Domain" not in one
    app.extensions["windtee"].database.engine.dispose()


def test_signing_in_anew_ends_the_session_before_it_in_that_browser(school: TestSchool) -> None:
    who = school.visitor("ana")
    old = cookie_of(who)
    who.get("/sign-in")
    who.post("/sign-in", email="ben@school.example", secret=SECRET)
    who.client.set_cookie(COOKIE, old)
    assert not is_in(who)


def test_a_secret_composed_in_another_way_opens_the_same_key(school: TestSchool) -> None:
    ana, typed = school.visitor("ana"), "nine caf\u00e9s on a windy hill"
    ana.get("/secret")
    ana.post("/secret", secret=SECRET, new_secret=typed, again=typed)
    who = sign_in(school, "ana", "nine cafe\u0301s on a windy hill")
    with school.database.read() as session:
        key = keyring.key_of(session, school.ids["ana"])
    assert is_in(who)
    assert key is not None
    assert key.id == school.keys["ana"].kid
