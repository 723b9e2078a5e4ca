"""Every field of every form takes far too much, and every kind of letter, without a fault."""

import re
from collections.abc import Iterator
from html import unescape
from itertools import product

import pytest
from werkzeug.test import TestResponse

from tests.cast import TestSchool, Visitor
from tests.walks.test_main_job import open_card, sign_first_lesson

FORM = re.compile(r'<form\b[^>]*method="post"[^>]*>.*?</form>', re.DOTALL)
ACTION = re.compile(r'action="([^"]*)"')
NAMED = re.compile(r"<(input|textarea|select|button)\b([^>]*)>", re.DOTALL)
VALUE = re.compile(r'\b(name|type|value)="([^"]*)"')
LONG = "x" * 5000
STRANGE = "\ud7ff\ufffe\U0001f681 \u202e \x1b[0m \x7f 'a' \"b\" \\ %s {0} ${x}"
LEFT_ALONE = {"csrf_token", "secret", "theme"}


def forms(page: str, own: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Address and fields of each form of a page, whose own address is `own`."""
    for form in FORM.findall(page):
        action = ACTION.search(form.partition(">")[0])
        fields = {}
        for _, attributes in NAMED.findall(form):
            said = dict(VALUE.findall(attributes))
            if "name" in said and said.get("type") not in ("submit", "file"):
                fields[said["name"]] = unescape(said.get("value", ""))
        address = unescape(action[1]) if action and action[1] else own
        if address != "/sign-out":
            yield address, fields


def send(who: Visitor, action: str, fields: dict[str, str]) -> TestResponse:
    data = {**fields, "csrf_token": who.token}
    return who.client.post(action, data=data)


PAGES = {
    "ana": ("/records/{record}", "/students/{enrolment}/judge/s-02", "/secret"),
    "ben": (
        "/lessons/{draft}", "/lessons/{draft}/review", "/lessons/{draft}/flow",
        "/records/{record}/amend", "/students/{enrolment}", "/students/{enrolment}/file",
        "/students/{enrolment}/tasks/hover", "/students/{enrolment}/readiness/stage-1",
    ),
    "cleo": (
        "/import", "/students/{enrolment}/teaching", "/people/{person}/enrol",
        "/students/{enrolment}/readiness/stage-1",
    ),
    "flo": ("/people/new", "/people/{person}"),
}  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_no_field_brings_the_server_down(either_school: TestSchool, name: str) -> None:
    record = sign_first_lesson(either_school)
    draft, _ = open_card(either_school.visitor("ben"), either_school, "s-02")
    who, tried = either_school.visitor(name), set()
    ids = {
        "record": record,
        "draft": draft,
        "enrolment": either_school.enrolment,
        "person": either_school.ids["hal"],
    }
    for page in PAGES[name]:
        answer = who.client.get(page.format(**ids), follow_redirects=True)
        who._remember(answer)
        for action, fields in forms(answer.text, answer.request.path):
            for field, typed in product(fields.keys() - LEFT_ALONE, (LONG, STRANGE)):
                sent = send(who, action, {**fields, field: typed})
                assert sent.status_code < 500, (action, field, typed[:9])
                tried.add((action, field))
    assert len(tried) >= 4, tried
