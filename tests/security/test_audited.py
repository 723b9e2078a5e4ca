"""What `asvs.csv` names and no other test holds: secrets, cookies, files, and how we write."""

import math
import re
import ssl
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import Browser
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from gradebook.app import create_app
from gradebook.cli.mailing import MailError, send
from gradebook.exchange.workbook import misnamed
from gradebook.records import onetime, secrets
from gradebook.settings import SettingError, settings_in
from tests.accounts.holding import enrolled, link_on, sign_in
from tests.cast import SECRET, TestSchool
from tests.run import ROOT
from tests.serving import served

PYTHON = [*ROOT.glob("gradebook/**/*.py"), *ROOT.glob("syllabus/**/*.py")]
SCRIPTS = [*ROOT.glob("static/js/**/*.js")]
HTTPS = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "school.example"}


def saying(pattern: str, paths: list[Path]) -> list[str]:
    """Where these files have what the pattern says."""
    wanted = re.compile(pattern)
    return [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for path in paths
        for found in wanted.finditer(path.read_text(encoding="utf-8"))
    ]


def test_there_is_something_to_look_through() -> None:
    assert min(len(PYTHON), 4 * len(SCRIPTS)) > 150
    assert saying(r"\bimport re\b", PYTHON)


def test_no_program_is_started_by_a_shell() -> None:
    assert saying(r"shell\s*=|os\.system|os\.popen", PYTHON) == []


def test_no_pattern_is_made_of_what_was_sent() -> None:
    made = saying(r"re\.\w+\(r?f?b?\"[^\"]*\{(?!\d)[^}]*\}[^\"]*\"", PYTHON)
    made = [one for one in made if "re.escape" not in one and 'rf"<' not in one]
    assert made == []


def test_no_script_makes_code_or_markup_of_text() -> None:
    markup = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|createContextualFragment"
    assert saying(rf"{markup}|\beval\(|new Function|__proto__", SCRIPTS) == []


def test_the_server_asks_nobody() -> None:
    assert saying(r"urllib\.request|http\.client|import requests|urlopen|httpx", PYTHON) == []


def test_no_template_is_made_of_text() -> None:
    assert saying(r"render_template_string|from_string", PYTHON) == []


def test_no_words_are_sent_as_a_format() -> None:
    assert saying(r"request\.[^\n]*\.format\(|%\s*request\.", PYTHON) == []


def test_nothing_is_unpickled() -> None:
    assert saying(r"\bpickle\b|\bmarshal\b|yaml\.load|\bshelve\b", PYTHON) == []


def test_scripts_take_messages_from_our_own_worker_alone() -> None:
    heard = saying(r"(\S+)\.addEventListener\(\s*\"message\"", SCRIPTS)
    ours = ("serviceWorker", "self", 'BroadcastChannel("windtee-outbox")')
    assert heard
    assert [one for one in heard if not any(f"{name}.add" in one for name in ours)] == []


def test_no_broken_hash_or_mode_is_named() -> None:
    assert saying(r"(?i)\bmd5\b|\bsha1\b|modes\.ECB|modes\.CBC|PKCS1v15", PYTHON) == []


def test_nothing_secret_is_drawn_from_a_foreseeable_source() -> None:
    drawn = saying(r"import random\b|from random import|default_rng|np\.random", PYTHON)
    places = ("gradebook/demo/", "gradebook/analytics/", "gradebook/cli/")
    assert [one for one in drawn if not one.startswith(places)] == []


def test_a_recovery_code_is_too_long_to_be_guessed_from_its_digest() -> None:
    codes = onetime.recovery_codes()
    assert len(set(codes)) == 10
    signs = len(onetime.bare(codes[0]))
    assert signs * math.log2(len(onetime.ALPHABET)) >= 112  # ASVS 5.0, 6.5.2


def test_none_of_the_commonest_secrets_is_taken() -> None:
    """The 30,000 of zxcvbn's list, the commonest first; ASVS 5.0 asks for 3,000 (6.2.4)."""
    long_enough = [one for one in FREQUENCY_LISTS["passwords"] if len(one) >= 8]
    common = long_enough[:400] + long_enough[400::40]
    assert len(common) > 500
    assert [one for one in common if not secrets.check_secret(one, (), alone=False)] == []


def test_secrets_are_typed_unseen_and_may_be_filled_in(school: TestSchool) -> None:
    ben = school.visitor("ben")
    for page in (school.visitor().get("/sign-in"), ben.get("/secret")):
        fields = re.findall(r"<input[^>]*name=\"[a-z_]*(?:secret|again)\"[^>]*>", page)
        assert fields
        assert all('type="password"' in one for one in fields)
        assert not any('autocomplete="off"' in one or "onpaste" in one for one in fields)


def test_a_secret_never_grows_too_old(school: TestSchool) -> None:
    school.clock.pass_days(1500)
    assert "Sign out" in school.visitor("ben").get("/")


@pytest.fixture
def secure(school: TestSchool) -> Iterator[Flask]:
    """The school, served by https behind one proxy."""
    wanted = {"secure_cookies": True, "proxies": 1, "hosts": ("school.example",)}
    app = create_app(replace(school.settings, **wanted))
    yield app
    app.extensions["windtee"].database.engine.dispose()


def test_over_https_every_cookie_is_bound_to_this_host(secure: Flask) -> None:
    client, base = secure.test_client(), "https://school.example"
    page = client.get("/sign-in", headers=HTTPS, base_url=base)
    token = re.search(r'name="csrf_token"\s+value="([^"]+)"', page.text)[1]
    more = {"headers": {**HTTPS, "Origin": base}, "base_url": base}
    known = {"csrf_token": token, "email": "ana@school.example", "secret": SECRET}
    answers = [page, client.post("/sign-in", data=known, **more)]
    answers.append(client.post("/theme", data={**known, "theme": "night"}, **more))
    given = [one for answer in answers for one in answer.headers.getlist("Set-Cookie")]
    assert len({one.partition("=")[0] for one in given}) == 4
    for one in given:
        assert one.startswith("__Host-"), one
        assert {"Secure", "Path=/", "SameSite=Lax"} <= set(one.split("; ")), one
        assert ("HttpOnly" in one) is not one.startswith("__Host-windtee-theme"), one
    page = client.get("/sign-in", headers=HTTPS, base_url=base)
    assert 'data-theme="night"' in page.text


def test_the_signed_cookie_is_held_by_sha_256(school: TestSchool) -> None:
    held = school.app.session_interface.get_signing_serializer(school.app)
    assert held.make_signer().digest_method().name == "sha256"


def test_files_of_pages_carry_the_policy_too(school: TestSchool) -> None:
    page = school.visitor().get("/sign-in")
    path = re.search(r'href="(/static/[^"]+\.css)"', page)[1]
    answer = school.app.test_client().get(path)
    assert answer.status_code == 200
    told = set(answer.headers["Content-Security-Policy"].split("; "))
    assert told == {
        "default-src 'none'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'",
    }  # fmt: skip


def test_folders_are_not_listed_and_trace_is_not_answered(school: TestSchool) -> None:
    client = school.app.test_client()
    for path in ("/static/", "/static/js/", "/.git/config", "/../pyproject.toml"):
        assert client.get(path).status_code in (302, 303, 404), path
    answer = client.open("/sign-in", method="TRACE", headers={"X-Canary": "told"})
    assert answer.status_code in (403, 405)
    assert "told" not in answer.text


def test_every_answer_says_what_it_is_and_in_which_letters(school: TestSchool) -> None:
    cleo = school.visitor("cleo").client
    for path in ("/", "/people", "/nothing", "/alive", "/api/token", "/manifest.webmanifest"):
        kind = cleo.get(path, follow_redirects=True).headers["Content-Type"]
        assert kind.startswith("application/") or kind.endswith("; charset=utf-8"), (path, kind)


def test_a_link_ends_whoever_was_signed_in_in_that_browser(school: TestSchool) -> None:
    flo = school.visitor("flo")
    path = f"/people/{school.ids['hal']}"
    flo.get(path)
    link = link_on(flo.post(f"{path}/link"))
    ben = school.visitor("ben")
    before = ben.client.get_cookie("windtee_session").value
    ben.get(link)
    ben.post(link, new_secret="a new sentence for hal", again="a new sentence for hal")
    other = school.app.test_client()
    other.set_cookie("windtee_session", before)
    assert other.get("/students").status_code == 303


def test_sessions_are_ended_only_by_who_has_just_shown_who_they_are(
    school: TestSchool,
) -> None:
    ben, generator = enrolled(school, "ben")
    other = sign_in(school, "ben")
    other.post("/sign-in/second", code=generator.code())
    school.clock.pass_minutes(11)
    ben.get("/account/sessions")
    page = ben.post("/account/sessions/end-others")
    assert "Show once more that it is you" in page
    assert "Sign out" in other.get("/")
    ben.post("/sign-in/second", code=generator.code())
    ben.get("/account/sessions")
    assert "Signed out everywhere else." in ben.post("/account/sessions/end-others")
    assert "Sign out" not in other.get("/")


@pytest.mark.parametrize(
    ("name", "data", "taken"),
    [
        ("a.csv", b"a,b\n", True),
        ("a.CSV", b"a,b\n", True),
        ("a.xlsx", b"PK\x03\x04", True),
        ("", b"a,b\n", True),
        ("a.csv", b"PK\x03\x04", False),
        ("a.xlsx", b"a,b\n", False),
        ("a.csv.exe", b"a,b\n", False),
        ("a.html", b"<html>", False),
        ("a.zip", b"PK\x03\x04", False),
    ],
)
def test_a_file_is_what_its_name_says(name: str, data: bytes, taken: bool) -> None:
    assert (misnamed(name, data) == "") is taken


def test_nothing_sent_is_served_again() -> None:
    """No view sends a file from the disk, but the static ones of the program itself."""
    assert saying(r"send_file|send_from_directory|sent\.save\(|\.filename\)\.", PYTHON) == [
        "gradebook/views/static.py: send_from_directory"
    ] * len(saying(r"send_from_directory", [ROOT / "gradebook/views/static.py"]))


def test_going_back_after_signing_out_shows_nothing(
    browser: Browser, school: TestSchool
) -> None:
    with served(school.app) as address:
        context = browser.new_context()
        page = context.new_page()
        page.goto(f"{address}/sign-in")
        page.get_by_label("E-mail address").fill("ben@school.example")
        page.get_by_label("Secret").fill(SECRET)
        page.get_by_role("main").get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "/sign-in" not in url)
        page.goto(f"{address}/students")
        assert "Ana" in page.inner_text("main")
        page.get_by_role("button", name="Sign out").first.click()
        page.wait_for_url("**/sign-in*")
        page.go_back()
        page.wait_for_load_state()
        assert "Ana" not in page.inner_text("body")
        context.close()


@pytest.mark.parametrize(
    ("address", "taken"),
    [
        ("postgresql+psycopg://u:p@db.example/w", False),
        ("postgresql+psycopg://u:p@db.example/w?sslmode=require", False),
        ("postgresql+psycopg://u:p@db.example/w?sslmode=verify-full", True),
        ("postgresql+psycopg://u:p@localhost/w?host=db.example", False),
        ("postgresql+psycopg://u:p@localhost/w", True),
        ("postgresql+psycopg:///w?host=/run/postgresql", True),
    ],
)
def test_a_database_elsewhere_is_asked_by_a_proved_line_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: str, taken: bool
) -> None:
    monkeypatch.setenv("WINDTEE_DATABASE", address)
    if taken:
        assert settings_in(tmp_path).database == address
        return
    with pytest.raises(SettingError, match="sslmode=verify-full"):
        settings_in(tmp_path)


def test_mail_goes_by_a_proved_line_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(MailError, match="smtps"):
        send("smtp://mail.example:25", "a@b.example", "s", "w")
    asked: list[ssl.SSLContext] = []

    def line(*_: object, context: ssl.SSLContext, **__: object) -> None:
        asked.append(context)
        raise OSError("no line in a test")

    monkeypatch.setattr("smtplib.SMTP_SSL", line)
    with pytest.raises(MailError, match="not sent"):
        send("smtps://mail.example:465", "a@b.example", "s", "w")
    assert [(one.verify_mode, one.check_hostname) for one in asked] == [
        (ssl.CERT_REQUIRED, True)
    ]
