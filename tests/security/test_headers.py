"""What every answer tells the browser to refuse: the same whatever its status."""

from collections.abc import Callable
from dataclasses import replace
from http.client import HTTPConnection
from urllib.parse import urlsplit

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from gradebook import assets
from gradebook.app import create_app
from gradebook.security.headers import HEADERS
from tests.card_desk import Desk
from tests.cast import TestSchool, Visitor
from tests.serving import served
from tests.walks.test_main_job import FILLED

JSON = {"Accept": "application/json"}
STRICT = {
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:",
    "font-src 'self'", "connect-src 'self'", "manifest-src 'self'", "worker-src 'self'",
    "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'", "object-src 'none'",
}  # fmt: skip


def broken() -> str:
    raise RuntimeError("a fault of the test")


def conflict(school: TestSchool) -> TestResponse:
    desk = Desk(school)
    desk.save(remarks="newer")
    data = {**FILLED, "csrf_token": desk.ben.token, "version": "1"}
    return desk.ben.client.post(f"/lessons/{desk.record}", data=data)


def as_ben(path: str, **more: object) -> Callable[[TestSchool], TestResponse]:
    """An answer to Ben."""
    return lambda school: school.visitor("ben").client.open(path, **more)


ANSWERS: dict[str, tuple[int, Callable[[TestSchool], TestResponse]]] = {
    "page": (200, as_ben("/")),
    "to sign in": (303, lambda school: school.visitor().client.get("/")),
    "another name": (400, as_ben("/", headers={"Host": "elsewhere.example"})),
    "no token": (400, as_ben("/theme", method="POST")),
    "signed out": (401, lambda school: school.visitor().client.get("/", headers=JSON)),
    "not this role": (403, as_ben("/audit")),
    "from elsewhere": (403, as_ben("/theme", method="POST", headers={"Origin": "null"})),
    "nothing there": (404, as_ben("/nothing")),
    "no such file": (404, as_ben("/static/nothing.css")),
    "wrong method": (405, as_ben("/sign-out")),
    "older version": (409, conflict),
    "too large": (413, as_ben("/theme", method="POST", data=b"a" * (1024 * 1024 + 1))),
    "not to be kept": (422, as_ben("/students?q=%00")),
    "broken": (500, as_ben("/syllabus")),
}


def test_the_date_of_an_answer_is_said_once(school: TestSchool) -> None:
    with served(school.app) as address:
        for path in ("/sign-in", f"/static/{assets.version()}/{assets.SHEET}"):
            asking = HTTPConnection(urlsplit(address).netloc)
            asking.request("GET", path)
            answer = asking.getresponse()
            assert (answer.status, len(answer.headers.get_all("Date"))) == (200, 1), path
            asking.close()


@pytest.mark.parametrize("case", ANSWERS)
def test_every_answer_carries_the_same_headers(school: TestSchool, case: str) -> None:
    school.app.view_functions["syllabus.index"] = broken
    status, ask = ANSWERS[case]
    answer = ask(school)
    assert answer.status_code == status
    assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
    assert set(answer.headers["Content-Security-Policy"].split("; ")) == STRICT
    assert answer.headers["Cache-Control"] == "no-store"
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]
    assert "Strict-Transport-Security" not in answer.headers


def test_a_stranger_site_may_not_ask_first(school: TestSchool) -> None:
    asked = {"Origin": "https://elsewhere.example", "Access-Control-Request-Method": "POST"}
    answer = school.visitor().client.options("/sign-in", headers=asked)
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]
    assert answer.data == b""


@pytest.fixture
def secure(school: TestSchool) -> Flask:
    """The school, served by https behind one proxy."""
    app = create_app(
        replace(school.settings, secure_cookies=True, proxies=1, hosts=("school.example",))
    )
    yield app
    app.extensions["windtee"].database.engine.dispose()


FORWARDED = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "school.example"}


@pytest.mark.parametrize(("path", "status"), [("/sign-in", 200), ("/", 303), ("/none", 404)])
def test_browsers_are_told_to_keep_to_https(secure: Flask, path: str, status: int) -> None:
    answer = secure.test_client().get(path, headers=FORWARDED)
    assert answer.status_code == status
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"


def test_signing_in_behind_a_proxy_works_from_its_own_https_pages_alone(
    secure: Flask,
) -> None:
    who = Visitor(secure.test_client())
    page = who.client.get("/sign-in", headers=FORWARDED, base_url="https://school.example")
    who._remember(page)
    data = {"csrf_token": who.token, "email": "x", "secret": "y"}
    for origin, status in (("https://school.example", 422), ("http://school.example", 403)):
        answer = who.client.post(
            "/sign-in",
            data=data,
            headers={**FORWARDED, "Origin": origin},
            base_url="https://school.example",
        )
        assert answer.status_code == status, origin
