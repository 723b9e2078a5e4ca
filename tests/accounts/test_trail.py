"""What of accounts is in the audit trail, and what never is."""

import json

from sqlalchemy import select

from gradebook.records.tables.audit import AuditEvent
from tests.accounts.holding import OWN, enrolled, joined, link_on, sign_in
from tests.cast import SECRET, TestSchool


def facts(school: TestSchool, name: str | None = None) -> list[dict[str, object]]:
    """The facts of every event about somebody (None: of all), in order."""
    with school.database.read() as session:
        rows = session.scalars(select(AuditEvent).order_by(AuditEvent.id)).all()
        return [row.facts for row in rows if name is None or row.object_id == school.ids[name]]


def said(school: TestSchool, name: str | None = None) -> set[str]:
    return {key for one in facts(school, name) for key in one}


def test_signing_in_and_out_and_ending_sessions_is_noted(either_school: TestSchool) -> None:
    school = either_school
    who, other = school.visitor("ana"), school.visitor("ana")
    assert facts(school, "ana")[-1]["address"] == "127.0.0.1"
    who.get("/account/sessions")
    who.post("/account/sessions/end-others")
    who.post("/sign-out")
    assert {"secret_shown", "ended_sessions", "signed_out"} <= said(school, "ana")
    assert other.client.get("/account").status_code == 303


def test_failures_are_noted_once_a_minute_for_each_account(either_school: TestSchool) -> None:
    school = either_school
    for name in ("ana", "ben", "nobody"):
        for _ in range(3):
            sign_in(school, name, "wrong", 422)
    failed = [one for one in facts(school) if "failed_sign_in" in one]
    assert len(failed) == 3
    school.clock.pass_minutes(1)
    sign_in(school, "ana", "wrong", 422)
    assert len([one for one in facts(school, "ana") if "failed_sign_in" in one]) == 2


def test_factors_and_recovery_codes_are_noted(strict_school: TestSchool) -> None:
    school = strict_school
    who, generator = enrolled(school, "ana")
    sign_in(school, "ana").post("/sign-in/second", code=generator.recovery[0])
    who.get("/account")
    page = who.get("/account")
    path = page.split('/remove"')[0].rsplit('href="', 1)[1] + "/remove"
    who.get(path)
    who.post(path, secret=SECRET)
    noted = said(school, "ana")
    assert {"added_factor", "made_recovery_codes", "factor_shown"} <= noted
    assert {"used_recovery_code", "removed_factor"} <= noted


def test_links_roles_and_closing_are_noted(school: TestSchool) -> None:
    flo, cleo = school.visitor("flo"), school.visitor("cleo")
    path = f"/people/{school.ids['hal']}"
    flo.get(path)
    link = link_on(flo.post(f"{path}/link"))
    joined(school, link)
    flo.send(path, {"roles": ["student", "instructor"], "certificate": "C", "active": "y"})
    page = cleo.get("/people")
    request = page.split("/people/requests/")[1][:32]
    cleo.post(f"/people/requests/{request}", answer="confirm")
    flo.send(path, {"roles": ["student"], "certificate": "C", "active": "y"})
    flo.send(path, {"roles": ["student"], "certificate": "C"})
    noted = said(school, "hal")
    assert {"made_link", "used_link", "asked_for", "confirmed", "revoked", "active"} <= noted


def test_what_the_door_refuses_is_noted(school: TestSchool) -> None:
    ana = school.visitor("ana")
    for _ in range(3):
        ana.get("/people", 403)
    ana.get("/audit", 403)
    denied = [one["denied"] for one in facts(school) if "denied" in one]
    assert denied == ["people.index", "audit.index"]


def test_no_event_holds_a_secret_a_code_or_a_link(strict_school: TestSchool) -> None:
    school = strict_school
    flo, generator = enrolled(school, "flo")
    sign_in(school, "ana", "typed in vain", 422)
    path = f"/people/{school.ids['ana']}"
    flo.get(path)
    link = link_on(flo.post(f"{path}/link"))
    joined(school, link)
    everything = json.dumps(facts(school))
    canaries = [SECRET, OWN, "typed in vain", generator.totp.secret, link.rsplit("/", 1)[1]]
    canaries += [generator.code(), *generator.recovery]
    assert [one for one in canaries if one in everything] == []
