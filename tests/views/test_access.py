"""The door: what is open to nobody signed in, what answers carry, and that looking is safe."""

import re
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from flask import Flask
from sqlalchemy import func, select
from werkzeug.routing import Rule

from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import CertifiedCopy
from gradebook.records.tables.lessons import LessonRecord, SelfGrade
from gradebook.records.tables.training import Enrolment
from gradebook.security.headers import HEADERS
from gradebook.views.access import OWN_ACCOUNT, POLICY, PUBLIC
from tests.cast import SECRET, TestSchool
from tests.copies.paper_trail import certify
from tests.walks.test_main_job import open_card, sign_first_lesson

CONVERTER = re.compile(r"<(?:[^:<>]+:)?([^<>]+)>")
JSON = {"Accept": "application/json"}


def rules(app: Flask, method: str) -> Iterator[Rule]:
    for rule in app.url_map.iter_rules():
        if rule.methods and method in rule.methods and rule.endpoint not in PUBLIC:
            yield rule


def filled(rule: Rule) -> str:
    """The address of a rule with an id nobody has."""
    return re.sub(r"<[^>]+>", "0" * 32, rule.rule)


def is_api(rule: Rule) -> bool:
    """Whether only scripts ask there, which are never led elsewhere."""
    return rule.rule.startswith("/api/")


def test_every_endpoint_has_a_policy_or_is_known_to_be_public(school: TestSchool) -> None:
    endpoints = {rule.endpoint for rule in school.app.url_map.iter_rules()}
    assert endpoints - set(POLICY) - PUBLIC - OWN_ACCOUNT == set()


def test_every_policy_is_about_an_endpoint_that_exists(school: TestSchool) -> None:
    endpoints = {rule.endpoint for rule in school.app.url_map.iter_rules()}
    assert {*POLICY, *PUBLIC, *OWN_ACCOUNT} - endpoints == set()


def test_the_public_list_is_as_short_as_it_was() -> None:
    assert set(PUBLIC) == {
        "static",
        "words.catalogue",
        "phone.page",
        "phone.shell",
        "phone.worker",
        "phone.manifest",
        "auth.sign_in",
        "auth.set_theme",
        "health.alive",
        "joining.join",
        "verify.page",
    }


def test_whoever_is_not_signed_in_is_sent_to_sign_in(school: TestSchool) -> None:
    client = school.visitor().client
    for rule in rules(school.app, "GET"):
        answer = client.get(filled(rule))
        if is_api(rule):
            assert (answer.status_code, answer.is_json) == (401, True), rule
            continue
        assert answer.status_code == 303, rule
        assert answer.headers["Location"].startswith("/sign-in?next="), rule


@pytest.mark.parametrize(
    ("before", "leads_to"),
    [
        ("http://localhost/lessons/one?part=2", "/lessons/one?part=2"),
        ("http://localhost/lessons/one", "/lessons/one"),
        ("http://elsewhere.example/lessons/one", "/"),
        ("", "/"),
    ],
)
def test_a_form_sent_after_the_session_ended_leads_back_to_its_page(
    school: TestSchool, before: str, leads_to: str
) -> None:
    visitor = school.visitor()
    visitor.get("/sign-in")
    data = {"csrf_token": visitor.token}
    answer = visitor.client.post("/lessons/one", data=data, headers={"Referer": before})
    assert parse_qs(urlsplit(answer.headers["Location"]).query) == {"next": [leads_to]}


def test_the_script_of_whoever_is_not_signed_in_is_told_so(school: TestSchool) -> None:
    client = school.visitor().client
    for rule in rules(school.app, "GET"):
        answer = client.get(filled(rule), headers=JSON)
        assert answer.status_code == 401, rule
        assert "Signed out" in answer.get_json()["error"]


def test_nothing_can_be_sent_by_whoever_is_not_signed_in(school: TestSchool) -> None:
    visitor = school.visitor()
    visitor.get("/sign-in")
    for rule in rules(school.app, "POST"):
        data = {"csrf_token": visitor.token}
        answer = visitor.client.post(filled(rule), data=data)
        if not is_api(rule):
            assert answer.status_code == 303, rule
            assert "/sign-in" in answer.headers["Location"], rule
        answer = visitor.client.post(filled(rule), data=data, headers=JSON)
        assert answer.status_code == 401, rule


def test_a_form_without_its_token_is_refused_everywhere(school: TestSchool) -> None:
    clients = [school.visitor(name).client for name in ("ben", "ana", "cleo", "flo")]
    open_to_all = {"auth.sign_in", "auth.set_theme"}
    for rule in school.app.url_map.iter_rules():
        if rule.methods and "POST" in rule.methods:
            told = {client.post(filled(rule)).status_code for client in clients}
            assert 400 in told, rule
            assert told <= {400, 403}, rule  # 403: somebody whose role may not anyway
            open_to_all.discard(rule.endpoint)
    assert not open_to_all


def state(school: TestSchool) -> tuple[object, ...]:
    """What a look must not change: the trail, every record, every card and its version."""
    with school.database.read() as session:
        records = session.execute(
            select(LessonRecord.id, LessonRecord.version, LessonRecord.state).order_by(
                LessonRecord.id
            )
        )
        counted = [
            session.scalar(select(func.count()).select_from(table))
            for table in (Enrolment, SelfGrade)
        ]
        events = session.scalars(select(AuditEvent)).all()
        acts = [event for event in events if not {"denied", "looked"} & set(event.facts)]
        return (*map(tuple, records), *counted, len(acts))


@pytest.mark.parametrize("name", ["ana", "ben", "cleo", "flo", "gus"])
def test_opening_every_page_changes_nothing(school: TestSchool, name: str) -> None:
    signed = sign_first_lesson(school)
    certify(school)
    school.clock.pass_days(1)
    draft, _ = open_card(school.visitor("ben"), school, "s-02")
    visitor = school.visitor(name)
    before = state(school)
    ids = {
        "enrolment_id": school.enrolment,
        "person_id": school.ids["ana"],
        "stage": "stage-1",
        "task": "hover",
        "lesson": "s-02",
        "copy_id": copy_of(school),
        "seq": "1",
    }
    for rule in rules(school.app, "GET"):
        record = draft if rule.rule.startswith("/lessons") else signed
        key = "trend" if "<task>" in rule.rule else "forecasts"
        known = {**ids, "record_id": record, "revision": revision(school), "key": key}
        nobodys = set(rule.arguments) - known.keys()  # an id nobody has will do
        known |= dict.fromkeys(nobodys, "0" * 32)
        address = CONVERTER.sub(lambda found, known=known: known[found[1]], rule.rule)
        visited = visitor.client.get(address, follow_redirects=True)
        assert visited.status_code in (200, 403, 404 if nobodys else 200), address
    assert state(school) == before


def copy_of(school: TestSchool) -> str:
    """The copy certified of Ana's record."""
    with school.database.read() as session:
        return session.scalars(select(CertifiedCopy.id)).one()


def revision(school: TestSchool) -> str:
    """The revision Ana is taught by."""
    with school.database.read() as session:
        row = session.get(Enrolment, school.enrolment)
        assert row is not None
        return row.revision_id


@pytest.mark.parametrize(("path", "status"), [("/sign-in", 200), ("/", 200), ("/none", 404)])
def test_every_page_carries_the_protecting_headers(
    school: TestSchool, path: str, status: int
) -> None:
    answer = school.visitor("ben").client.get(path, follow_redirects=True)
    assert answer.status_code == status
    for name, words in HEADERS.items():
        assert answer.headers[name] == words
    assert answer.headers["Cache-Control"] == "no-store"
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "unsafe" not in answer.headers["Content-Security-Policy"]


def test_the_sign_in_page_is_protected_for_a_stranger_too(school: TestSchool) -> None:
    answer = school.visitor().client.get("/sign-in")
    assert answer.status_code == 200
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]


def test_the_session_cookie_cannot_be_read_by_a_script(school: TestSchool) -> None:
    who = school.visitor()
    who.get("/sign-in")
    sent = {
        "csrf_token": who.token,
        "email": "ben@school.example",
        "secret": SECRET,
    }
    cookies = who.client.post("/sign-in", data=sent).headers.getlist("Set-Cookie")
    ours = next(cookie for cookie in cookies if cookie.startswith("windtee_session="))
    assert "HttpOnly" in ours
    assert "SameSite=Lax" in ours


def test_signing_in_never_leads_to_another_site(school: TestSchool) -> None:
    for target in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"):
        who = school.visitor()
        who.get("/sign-in")
        sent = {
            "csrf_token": who.token,
            "email": "ben@school.example",
            "secret": SECRET,
        }
        answer = who.client.post("/sign-in", query_string={"next": target}, data=sent)
        assert answer.status_code == 303
        assert answer.headers["Location"] == "/", target
