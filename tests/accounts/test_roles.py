"""Roles by two persons: what one asks for, a second confirms."""

import re

import pytest
from sqlalchemy import select

from gradebook.records.permissions import Role
from gradebook.records.store import people, proof
from gradebook.records.tables.people import RoleGrant, RoleRequest
from tests.cast import TestSchool, Visitor

BY_TWO = ("instructor", "check instructor", "chief instructor", "administrator")


def set_roles(
    school: TestSchool, flo: Visitor, name: str, *roles: str, status: int = 200
) -> str:
    """Flo ticks these roles on somebody's page."""
    path = f"/people/{school.ids[name]}"
    flo.get(path)
    fields = {"roles": list(roles), "certificate": f"C-{name}", "active": "y"}
    return flo.send(path, fields, status).text


def held(school: TestSchool, name: str) -> set[str]:
    with school.database.read() as session:
        person = people.person(session, school.ids[name])
        return {role.value for role in people.roles_of(person)}


def request_id(school: TestSchool) -> str:
    with school.database.read() as session:
        return session.scalars(select(RoleRequest.id)).one()


def decide(who: Visitor, request: str, answer: str, status: int = 200) -> str:
    who.get("/people")
    return who.post(f"/people/requests/{request}", status, answer=answer)


@pytest.mark.parametrize("role", BY_TWO)
def test_an_administrator_alone_only_asks(either_school: TestSchool, role: str) -> None:
    school = either_school
    page = set_roles(school, school.visitor("flo"), "hal", "student", role)
    assert f"{role}: waits for a second person." in page
    assert held(school, "hal") == {"student"}
    page = decide(school.visitor("cleo"), request_id(school), "confirm")
    assert f"Hal is {role}." in page
    assert held(school, "hal") == {"student", role}


@pytest.mark.parametrize("role", ["auditor"])
def test_a_role_without_power_is_granted_at_once(school: TestSchool, role: str) -> None:
    page = set_roles(school, school.visitor("flo"), "hal", "student", role)
    assert "waits" not in page
    assert held(school, "hal") == {"student", role}


def test_whose_role_waits_is_told_so_and_not_to_ask(school: TestSchool) -> None:
    set_roles(school, school.visitor("flo"), "hal", "instructor")
    page = school.visitor("hal").get("/")
    assert "You are to be instructor: that waits for a second person." in page
    assert "You hold no role yet." not in page


def test_who_only_checks_is_told_of_checks_and_not_of_students(school: TestSchool) -> None:
    set_roles(school, school.visitor("flo"), "hal", "check instructor")
    decide(school.visitor("cleo"), request_id(school), "confirm")
    page = school.visitor("hal").get("/")
    assert "0 stage checks assigned to you" in page
    assert "No stage check is assigned to you." in page
    assert "No student is assigned to you." not in page


def test_a_second_person_sees_the_certificate_before_saying_yes(school: TestSchool) -> None:
    flo = school.visitor("flo")
    page = f"/people/{school.ids['hal']}"
    flo.get(page)
    asked = {"roles": ["student", "instructor"], "active": "y", "certificate": "KM-0044"}
    until = {"certificate_term": "expires", "certificate_until": "2028-01-31"}
    flo.send(page, {**asked, **until})
    seen = school.visitor("cleo").get("/people")
    assert "Certificate KM-0044:" in seen
    assert "through 31 Jan 2028" in seen


def test_a_closed_account_says_so(school: TestSchool) -> None:
    flo = school.visitor("flo")
    page = f"/people/{school.ids['hal']}"
    assert "This account is closed" not in flo.get(page)
    assert "This account is closed" in flo.send(page, {"roles": ["student"]}).text


def test_whoever_asked_cannot_confirm(either_school: TestSchool) -> None:
    school = either_school
    flo = school.visitor("flo")
    set_roles(school, flo, "hal", "student", "instructor")
    assert "Confirm Hal" not in flo.get("/people")
    words = decide(flo, request_id(school), "confirm", 403)
    assert "not who asked, not whom it is for" in words
    assert held(school, "hal") == {"student"}


def test_whom_it_is_for_cannot_confirm(school: TestSchool) -> None:
    set_roles(school, school.visitor("flo"), "cleo", "chief instructor", "administrator")
    cleo = school.visitor("cleo")
    assert "Confirm Cleo" not in cleo.get("/people")
    decide(cleo, request_id(school), "confirm", 403)
    assert held(school, "cleo") == {"chief instructor"}


def test_an_administrator_does_not_make_herself_an_instructor(school: TestSchool) -> None:
    flo = school.visitor("flo")
    set_roles(school, flo, "flo", "administrator", "instructor")
    decide(flo, request_id(school), "confirm", 403)
    assert held(school, "flo") == {"administrator"}


@pytest.mark.parametrize("name", ["ana", "ben", "eve", "gus"])
def test_no_other_role_confirms(school: TestSchool, name: str) -> None:
    set_roles(school, school.visitor("flo"), "hal", "student", "instructor")
    who = school.visitor(name)
    who.get("/account")
    who.post(f"/people/requests/{request_id(school)}", 403, answer="confirm")
    assert held(school, "hal") == {"student"}


def test_a_second_person_may_decline_and_then_it_is_decided(either_school: TestSchool) -> None:
    school = either_school
    set_roles(school, school.visitor("flo"), "hal", "student", "instructor")
    cleo = school.visitor("cleo")
    assert "does not become instructor" in decide(cleo, request_id(school), "decline")
    decide(cleo, request_id(school), "confirm", 409)
    assert held(school, "hal") == {"student"}


def test_whoever_asked_may_take_it_back(school: TestSchool) -> None:
    flo = school.visitor("flo")
    set_roles(school, flo, "hal", "student", "instructor")
    assert "Take back" in flo.get("/people")
    decide(flo, request_id(school), "decline")
    assert "Waiting for a second person" not in flo.get("/people")


def test_what_waits_is_seen_by_both(school: TestSchool) -> None:
    flo, cleo = school.visitor("flo"), school.visitor("cleo")
    set_roles(school, flo, "hal", "student", "instructor")
    assert "1 question for a second person" in cleo.get("/")
    for who in (flo, cleo):
        assert "Waiting for a second person" in who.get("/people")
    assert "asked for by Flo" in flo.get(f"/people/{school.ids['hal']}")
    assert "question for a second person" not in school.visitor("ben").get("/")


def test_asking_twice_asks_once(school: TestSchool) -> None:
    flo = school.visitor("flo")
    for _ in range(2):
        set_roles(school, flo, "hal", "student", "instructor")
    assert request_id(school)


def test_a_role_that_signs_needs_a_certificate_number(school: TestSchool) -> None:
    flo = school.visitor("flo")
    path = f"/people/{school.ids['hal']}"
    flo.get(path)
    fields = {"roles": ["student", "instructor"], "certificate": " ", "active": "y"}
    page = flo.send(path, fields, 422).text
    assert "Enter the number of the instructor certificate" in page
    flo.get("/people/new")
    new = {"name": "Ivo", "email": "ivo@school.example", "roles": "check instructor"}
    assert "Enter the number" in flo.send("/people/new", new, 422).text


def test_a_revoked_role_is_gone_at_once_and_signs_its_holder_out(
    either_school: TestSchool,
) -> None:
    school = either_school
    ben = school.visitor("ben")
    set_roles(school, school.visitor("flo"), "ben")
    assert ben.client.get("/students").status_code == 303
    again = school.visitor("ben")
    assert "You hold no role yet." in again.get("/")
    assert "How you sign in" in again.get("/account")
    again.get("/students", 403)


def test_the_last_administrator_stays(school: TestSchool) -> None:
    flo = school.visitor("flo")
    words = "Somebody must remain administrator."
    assert words in set_roles(school, flo, "flo", "auditor", status=422)
    path = f"/people/{school.ids['flo']}"
    assert words in flo.send(path, {"roles": "administrator"}, 422).text
    assert held(school, "flo") == {"administrator"}


def test_a_closed_account_gets_no_role(school: TestSchool) -> None:
    flo = school.visitor("flo")
    set_roles(school, flo, "hal", "student", "instructor")
    path = f"/people/{school.ids['hal']}"
    flo.send(path, {"roles": ["student"]})
    decide(school.visitor("cleo"), request_id(school), "confirm", 409)
    assert held(school, "hal") == {"student"}


def test_every_grant_and_revocation_is_in_the_ledger(either_school: TestSchool) -> None:
    school = either_school
    flo = school.visitor("flo")
    set_roles(school, flo, "hal", "student", "instructor")
    decide(school.visitor("cleo"), request_id(school), "confirm")
    set_roles(school, flo, "hal", "instructor")
    with school.database.read() as session:
        school_row = people.school(session)
        assert school_row is not None
        assert proof.prove(session, school_row.vkey, []).findings == []
    with school.database.write() as session:
        row = RoleGrant(
            person_id=school.ids["ana"],
            role=Role.ADMINISTRATOR.value,
            granted_at=school.clock.at,
        )
        session.add(row)
    with school.database.read() as session:
        found = proof.prove(session, school_row.vkey, []).findings
    assert "nobody signed this row into being" in found[0].words


def test_the_page_ticks_what_holds_so_that_saving_it_changes_nothing(
    school: TestSchool,
) -> None:
    flo = school.visitor("flo")
    page = flo.get(f"/people/{school.ids['ben']}")
    ticked = re.findall(r'value="([^"]+)"\s+checked|checked\s+[^>]*value="([^"]+)"', page)
    assert {one or other for one, other in ticked} == {"instructor", "y"}
    assert 'value="C-ben"' in page


def test_a_certificate_number_taken_away_meanwhile_is_missed(school: TestSchool) -> None:
    flo = school.visitor("flo")
    set_roles(school, flo, "hal", "student", "instructor")
    fields = {"roles": ["student"], "certificate": "", "active": "y"}
    flo.send(f"/people/{school.ids['hal']}", fields)
    words = decide(school.visitor("cleo"), request_id(school), "confirm", 409)
    assert "has no certificate number" in words
