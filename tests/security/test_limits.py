"""How much may be sent, to which name, through how many proxies."""

from argparse import Namespace
from dataclasses import replace
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from flask import request

from gradebook.app import create_app
from gradebook.cli import main
from gradebook.cli.serving import address
from gradebook.security.limits import MIB, is_ours
from gradebook.settings import SettingError, Settings, hosts_for, settings_in
from gradebook.views.desk import Office
from tests.card_desk import Desk
from tests.cast import TestSchool

FORM = "application/x-www-form-urlencoded"
TOO_LARGE = "This is too large: a file to import may hold 10 MiB, a form 1 MiB."


@pytest.mark.parametrize(
    ("path", "most"),
    [
        ("/sign-in", MIB),
        ("/theme", MIB),
        ("/import/commit", MIB),
        ("/import/preview", 10 * MIB),
    ],
)
def test_a_body_may_be_just_so_large(school: TestSchool, path: str, most: int) -> None:
    cleo = school.visitor("cleo")
    for size, is_too_large in ((most, False), (most + 1, True)):
        answer = cleo.client.post(path, data=b"a" * size, content_type=FORM)
        assert (answer.status_code == 413) is is_too_large, size
        assert (TOO_LARGE in answer.text) is is_too_large


def test_a_body_sent_in_chunks_is_refused_whole(school: TestSchool) -> None:
    ben = school.visitor("ben").client
    in_chunks = {"wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"}
    sent = ben.post(
        "/theme", data=b"a" * (MIB + 1), content_type=FORM, environ_overrides=in_chunks
    )
    assert sent.status_code == 413


def test_the_longest_remarks_of_the_largest_card_get_through(school: TestSchool) -> None:
    desk = Desk(school)
    fields = {f"remark-task-{n}": "ø" * 2000 for n in range(60)}  # two bytes, six as sent
    words = {"csrf_token": desk.ben.token, "version": "1", **fields}
    assert 0.5 * MIB < len(urlencode(words)) < 2 * MIB
    desk.ben.send(f"/lessons/{desk.record}", words)


@pytest.mark.parametrize("content_type", [FORM, "multipart/form-data"])
def test_a_form_of_too_many_fields_is_refused(school: TestSchool, content_type: str) -> None:
    desk = Desk(school)
    for path, most in (("/theme", 200), (f"/lessons/{desk.record}", 2000)):
        fields = {"csrf_token": desk.ben.token, "version": "1"}
        fields |= {f"f{n}": "x" for n in range(most - 2)}
        sent = desk.ben.client.post(path, data=fields, content_type=content_type)
        assert sent.status_code < 400, path
        sent = desk.ben.client.post(path, data={**fields, "x": "x"}, content_type=content_type)
        assert sent.status_code == 413, path


def test_the_script_is_told_at_which_field_a_character_cannot_be_kept(
    school: TestSchool,
) -> None:
    desk = Desk(school)
    data = {"csrf_token": desk.ben.token, "version": "1", "remark-hover": "be\0fore"}
    answer = desk.ben.client.post(
        f"/lessons/{desk.record}", data=data, headers={"Accept": "application/json"}
    )
    assert answer.status_code == 422
    assert [one["field"] for one in answer.get_json()["problems"]] == ["remark-hover"]
    assert desk.stored().version == 1


@pytest.mark.parametrize("field", ["remark-hover", "nothing", "next", "x\0y"])
def test_a_character_that_cannot_be_kept_is_refused_wherever_it_stands(
    either_school: TestSchool, field: str
) -> None:
    ben = either_school.visitor("ben")
    for data in ({field: "\0"}, [(field, "good"), (field, "b\0ad")]):
        sent = data.items() if isinstance(data, dict) else data
        body = urlencode([("csrf_token", ben.token), *sent])
        answer = ben.client.post("/theme", data=body, content_type=FORM)
        assert answer.status_code == 422
        assert "holds a character that cannot be kept" in answer.text


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "localhost.elsewhere.example", "10.0.0.9"]
)
def test_another_name_is_answered_with_what_to_do(school: TestSchool, host: str) -> None:
    answer = school.visitor().client.get("/sign-in", headers={"Host": host})
    assert answer.status_code == 400
    assert answer.mimetype == "text/plain"
    assert f"does not answer to the name '{host}'" in answer.text
    assert "WINDTEE_HOSTS" in answer.text


@pytest.mark.parametrize("host", ["localhost", "localhost:8765", "127.0.0.1:80"])
def test_this_machine_may_always_ask(school: TestSchool, host: str) -> None:
    assert school.visitor().client.get("/sign-in", headers={"Host": host}).status_code == 200


def test_a_school_answers_to_its_machine_its_address_and_the_names_it_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "Hangar")
    here = ("localhost", "127.0.0.1")
    monkeypatch.delenv("WINDTEE_HOSTS", raising=False)
    assert hosts_for("127.0.0.1") == here
    assert hosts_for("10.0.0.5") == (*here, "10.0.0.5")
    assert hosts_for("::") == (*here, "hangar", "hangar.local")
    monkeypatch.setenv("WINDTEE_HOSTS", "School.example, grades.example")
    assert hosts_for("127.0.0.1") == (*here, "school.example", "grades.example")


@pytest.mark.parametrize(
    ("host", "told"),
    [
        ("127.0.0.1", "http://localhost:8765/"),  # where a passkey can be made
        ("::1", "http://localhost:8765/"),
        ("10.0.0.9", "http://10.0.0.9:8765/"),
        ("fd00::9", "http://[fd00::9]:8765/"),
    ],
)
def test_a_server_tells_where_a_browser_finds_it(host: str, told: str) -> None:
    assert address(Namespace(host=host, port=8765)) == told


@pytest.mark.parametrize("typed", ["x", "-1", "1.5", "9", "", "²"])
def test_a_number_of_proxies_that_cannot_be_ends_the_command_with_words(
    typed: str, tmp_path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WINDTEE_PROXIES", typed)
    assert main(["serve", "--data", str(tmp_path)]) == 2
    assert "how many proxies stand before Windtee" in capsys.readouterr().err
    with pytest.raises(SettingError):
        settings_in(tmp_path)


CHAIN = "6.6.6.6, 198.51.100.7, 10.0.0.2"  # forged by the browser; the outer and inner proxy's


@pytest.mark.parametrize(
    ("proxies", "seen"), [(0, "127.0.0.1"), (1, "10.0.0.2"), (2, "198.51.100.7")]
)
def test_the_address_of_whoever_asks_is_that_which_our_own_proxies_saw(
    school: TestSchool, proxies: int, seen: str
) -> None:
    app = create_app(replace(school.settings, proxies=proxies))
    app.view_functions["auth.sign_in"] = lambda: f"{request.remote_addr} {request.scheme}"
    forged = {"X-Forwarded-For": CHAIN, "X-Forwarded-Proto": "https, http, http"}
    answer = app.test_client().get("/sign-in", headers=forged)
    assert answer.text == f"{seen} http"
    app.extensions["windtee"].database.engine.dispose()


def test_settings_without_any_word_are_the_careful_ones(tmp_path) -> None:
    found = Settings(data=tmp_path, database="sqlite://", key="k")
    assert (found.hosts, found.proxies) == (("localhost", "127.0.0.1"), 0)


HOSTS = ("localhost", "::1", ".school.example")


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("localhost", True),
        ("LocalHost:8000", True),
        ("[::1]:8000", True),
        ("[::1]", True),
        ("grades.school.example", True),
        ("[::2]:8000", False),
        ("school.example.org", False),
        ("evilschool.example", False),
        ("localhost.evil.example", False),
        ("[::1", False),
        ("", False),
    ],
)
def test_a_name_is_ours_or_not_with_its_port_or_without(host: str, ours: bool) -> None:
    assert is_ours(host, HOSTS) is ours


def test_a_server_at_an_ipv6_address_answers_to_it(school: TestSchool) -> None:
    app = create_app(replace(school.settings, hosts=hosts_for("::1")))
    client = app.test_client()
    assert client.get("/sign-in", base_url="http://[::1]:8000/").status_code == 200
    assert client.get("/sign-in", base_url="http://[::2]:8000/").status_code == 400
    app.extensions["windtee"].database.engine.dispose()


def test_a_script_may_ask_so_often_a_minute_and_is_told_when_to_come_again(
    either_school: TestSchool,
) -> None:
    settings = replace(either_school.settings, requests=3)
    either_school.app.extensions["windtee"] = Office(settings, either_school.database)
    ben, dov = (either_school.visitor(name).client for name in ("ben", "dov"))
    either_school.clock.pass_minutes(1)
    assert [ben.get("/api/token").status_code for _ in range(3)] == [200, 200, 200]
    either_school.clock.at += timedelta(seconds=20)
    refused = ben.get("/api/token")
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, "40")
    assert "kept" in refused.json["error"]
    assert (dov.get("/api/token").status_code, ben.get("/").status_code) == (200, 200)
    either_school.clock.at += timedelta(seconds=41)
    assert ben.get("/api/token").status_code == 200


def test_a_script_is_slowed_down_without_being_told_to(tmp_path) -> None:
    assert Settings(data=tmp_path, database="sqlite://", key="k").requests == 120
