"""Links: how somebody joins, and how a lost secret or factor is replaced."""

import io

import pytest
from sqlalchemy import select

from gradebook.records.commands import keyring
from gradebook.records.tables.ledger import SigningKey
from gradebook.records.tables.people import Invitation
from tests.accounts.holding import (
    OWN,
    Generator,
    enrolled,
    hidden,
    joined,
    link_on,
    sign_in,
)
from tests.cast import SECRET, TestSchool, Visitor
from tests.walks.test_main_job import sign_first_lesson

IVO = {"name": "Ivo", "email": "ivo@school.example"}


def add(flo: Visitor, **fields: object) -> str:
    """Flo adds Ivo; the path of the link."""
    flo.get("/people/new")
    return link_on(flo.post("/people/new", **{**IVO, **fields}))


def link_for(school: TestSchool, flo: Visitor, name: str, **fields: str) -> str:
    """Flo makes a link for somebody of the cast."""
    path = f"/people/{school.ids[name]}"
    flo.get(path)
    return link_on(flo.post(f"{path}/link", **fields))


def test_a_person_joins_by_a_link_and_signs_in_with_their_own_secret(
    either_school: TestSchool,
) -> None:
    school = either_school
    path = add(school.visitor("flo"), roles="student")
    page = school.visitor().get(path)
    assert "Ivo, join Test school" in page
    assert "ivo@school.example" in page
    assert "You hold the role student." in page
    who = joined(school, path)
    assert "Your secret is set." in who.get("/") or who.get("/account")
    assert "How you sign in" in sign_in(school, "ivo", OWN).get("/account")


def test_a_new_account_has_no_secret_before_its_owner_sets_one(school: TestSchool) -> None:
    flo = school.visitor("flo")
    add(flo, roles="student")
    assert "no secret yet" in flo.get("/people")
    for typed in ("", "-", SECRET):
        sign_in(school, "ivo", typed, 422)


def test_joining_makes_the_key_that_the_secret_opens(either_school: TestSchool) -> None:
    school = either_school
    joined(school, add(school.visitor("flo"), roles="student"))
    with school.database.read() as session:
        key = session.scalars(
            select(SigningKey).order_by(SigningKey.enrolled_at.desc())
        ).first()
        assert key is not None
        opened = keyring.unlock(session, key.person_id, OWN)
        assert keyring.unlock(session, key.person_id, SECRET) is None
    assert opened is not None
    assert opened.kid == key.id


def test_an_instructor_who_joins_adds_a_second_factor_next(strict_school: TestSchool) -> None:
    school = strict_school
    flo, _ = enrolled(school, "flo")
    cleo, _ = enrolled(school, "cleo")
    path = add(flo, roles="instructor", certificate="C-77")
    cleo.get("/people")
    request = cleo.get("/people").split("/people/requests/")[1][:32]
    cleo.post(f"/people/requests/{request}", answer="confirm")
    who = joined(school, path, "vT7!qz#9")
    assert "Your role needs a second factor." in who.get("/")
    generator = Generator(school, who)
    assert len(generator.recovery) == 10
    assert "students of yours" in who.get("/")


@pytest.mark.parametrize(
    ("typed", "again", "words"),
    [
        ("short", "short", "Use at least 15 characters"),
        ("Ivo at Test school", "Ivo at Test school", "Too easy to guess."),
        (OWN, OWN[:-1], "This is not the same as above."),
    ],
)
def test_a_secret_that_cannot_stand_leaves_the_link_good(
    school: TestSchool, typed: str, again: str, words: str
) -> None:
    path = add(school.visitor("flo"), roles="student")
    who = school.visitor()
    who.get(path)
    assert words in who.post(path, 422, new_secret=typed, again=again)
    assert "Ivo, join" in who.get(path)


def test_a_link_works_once(either_school: TestSchool) -> None:
    school = either_school
    path = add(school.visitor("flo"), roles="student")
    joined(school, path)
    late = school.visitor()
    assert "This link has been used. If that was not you" in late.get(path, 410)
    late.get("/sign-in")
    late.post(path, 410, new_secret="another secret of a thief", again="x")
    sign_in(school, "ivo", OWN)


@pytest.mark.parametrize(("minutes", "status"), [(72 * 60 - 1, 200), (72 * 60, 410)])
def test_a_link_is_good_for_three_days(school: TestSchool, minutes: int, status: int) -> None:
    path = add(school.visitor("flo"), roles="student")
    school.clock.pass_minutes(minutes)
    page = school.visitor().get(path, status)
    assert ("too old" in page) is (status == 410)


def test_a_newer_link_takes_the_place_of_an_older(school: TestSchool) -> None:
    flo = school.visitor("flo")
    old = link_for(school, flo, "ana")
    new = link_for(school, flo, "ana")
    assert "This link was withdrawn." in school.visitor().get(old, 410)
    assert "set a new secret" in school.visitor().get(new)


def test_a_link_can_be_withdrawn(either_school: TestSchool) -> None:
    school = either_school
    flo = school.visitor("flo")
    path = link_for(school, flo, "ana")
    page = flo.get(f"/people/{school.ids['ana']}")
    link = page.split("/people/links/")[1][:64]
    flo.post(f"/people/links/{link}/withdraw")
    assert "withdrawn" in school.visitor().get(path, 410)
    flo.post(f"/people/links/{link}/withdraw", 409)


def test_a_link_nobody_made_is_not_found(school: TestSchool) -> None:
    for token in ("x", "0" * 43, "0" * 64):
        school.visitor().get(f"/join/{token}", 404)


def test_the_database_does_not_know_the_link(school: TestSchool) -> None:
    path = link_for(school, school.visitor("flo"), "ana")
    with school.database.read() as session:
        kept = session.scalars(select(Invitation)).one().id
    assert kept not in path
    school.visitor().get(f"/join/{kept}", 404)


def test_a_new_secret_ends_sessions_and_the_old_key_but_not_what_it_signed(
    either_school: TestSchool,
) -> None:
    school = either_school
    record = sign_first_lesson(school)
    ben = school.visitor("ben")
    joined(school, link_for(school, school.visitor("flo"), "ben"))
    assert ben.client.get("/account").status_code == 303
    sign_in(school, "ben", status=422)
    assert "Unaltered since it was signed." in sign_in(school, "ben", OWN).get(
        f"/records/{record}"
    )
    with school.database.read() as session:
        now = keyring.key_of(session, school.ids["ben"])
        assert now is not None
        assert now.id != school.keys["ben"].kid
        assert session.get_one(SigningKey, school.keys["ben"].kid).revoked_at is not None


def test_a_new_secret_does_not_get_around_the_second_factor(
    either_strict_school: TestSchool,
) -> None:
    school = either_strict_school
    flo, _ = enrolled(school, "flo")
    _, generator = enrolled(school, "ben")
    who = joined(school, link_for(school, flo, "ben"))
    assert "Show your second factor" in who.get("/")
    assert "Show your second factor" in who.get("/account")
    who.post("/sign-in/second", 422, code="000000")
    assert "Today" in who.post("/sign-in/second", code=generator.code())


def test_lost_factors_are_removed_only_after_a_second_persons_yes(
    either_strict_school: TestSchool,
) -> None:
    school = either_strict_school
    flo, _ = enrolled(school, "flo")
    enrolled(school, "ben")
    path = link_for(school, flo, "ben", clears_factors="yes")
    assert "waits for a second person" in school.visitor().get(path, 409)
    link = flo.get("/people").split("/people/links/")[1][:64]
    assert "Confirm for Ben" not in flo.get("/people")
    flo.post(f"/people/links/{link}/confirm", 403)
    cleo, _ = enrolled(school, "cleo")
    assert "1 question for a second person" in cleo.get("/")
    assert "Confirm for Ben" in cleo.get("/people")
    cleo.post(f"/people/links/{link}/confirm")
    cleo.post(f"/people/links/{link}/confirm", 409)
    who = joined(school, path)
    assert "Your role needs a second factor." in who.get("/")


def test_a_secret_that_will_stand_alone_is_asked_for_as_long_as_that(
    strict_school: TestSchool,
) -> None:
    school = strict_school
    flo, _ = enrolled(school, "flo")
    enrolled(school, "ana")
    path = link_for(school, flo, "ana", clears_factors="yes")
    link = flo.get("/people").split("/people/links/")[1][:64]
    cleo, _ = enrolled(school, "cleo")
    cleo.get("/people")
    cleo.post(f"/people/links/{link}/confirm")
    assert "At least 15 characters" in school.visitor().get(path)


def test_nobody_confirms_the_loss_of_their_own_factors(strict_school: TestSchool) -> None:
    school = strict_school
    flo, _ = enrolled(school, "flo")
    cleo, _ = enrolled(school, "cleo")
    link_for(school, flo, "cleo", clears_factors="yes")
    link = flo.get("/people").split("/people/links/")[1][:64]
    cleo.get("/people")
    assert "not who asked, not whom it is for" in cleo.post(
        f"/people/links/{link}/confirm", 403
    )


def test_a_second_person_may_say_no(strict_school: TestSchool) -> None:
    school = strict_school
    flo, _ = enrolled(school, "flo")
    cleo, _ = enrolled(school, "cleo")
    enrolled(school, "ben")
    path = link_for(school, flo, "ben", clears_factors="yes")
    link = flo.get("/people").split("/people/links/")[1][:64]
    cleo.get("/people")
    cleo.post(f"/people/links/{link}/withdraw")
    assert "withdrawn" in school.visitor().get(path, 410)


def test_a_chief_cannot_withdraw_an_ordinary_link(school: TestSchool) -> None:
    path = link_for(school, school.visitor("flo"), "ana")
    with school.database.read() as session:
        link = session.scalars(select(Invitation)).one().id
    cleo = school.visitor("cleo")
    cleo.get("/people")
    cleo.post(f"/people/links/{link}/withdraw", 403)
    assert "set a new secret" in school.visitor().get(path)


def test_imported_students_are_invited_from_their_page(school: TestSchool) -> None:
    words = "name,email,certificate,course,enrolled_on,instructor_email\n"
    words += "Ivo,ivo@school.example,,small,2026-05-01,ben@school.example\n"
    cleo = school.visitor("cleo")
    cleo.get("/import")
    sent = {"file": (io.BytesIO(words.encode()), "students.csv")}
    page = cleo.send("/import/preview", sent).text
    cleo.post("/import/commit", digest=hidden(page, "digest"))
    flo = school.visitor("flo")
    person = flo.get("/people").split("Ivo</th>")[1].split("/people/")[1][:32]
    flo.get(f"/people/{person}")
    who = joined(school, link_on(flo.post(f"/people/{person}/link")))
    assert "First lesson" in who.get("/")
