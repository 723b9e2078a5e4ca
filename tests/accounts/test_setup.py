"""The first run: a school with two accounts, no secret, and a link for each."""

import re
from pathlib import Path

import pytest

from gradebook.app import create_app
from gradebook.cli import main
from gradebook.records.database import Database, open_engine
from gradebook.records.store import people, proof
from gradebook.settings import settings_in
from tests.accounts.holding import OWN
from tests.cast import Visitor

ASKED = (
    "setup", "--name", "Kelpmoor", "--zone", "Europe/Lisbon",
    "--admin-name", "Rhea", "--admin-email", "rhea@kelpmoor.example",
    "--chief-name", "Maren", "--chief-email", "maren@kelpmoor.example",
)  # fmt: skip
LINK = re.compile(r"(\S*)(/join/\S+)")


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("WINDTEE_DATABASE", raising=False)
    return tmp_path


def run(data: Path, *words: str) -> int:
    return main([*words, "--data", str(data)])


def test_setup_prints_two_links_and_no_secret(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(data, *ASKED, "--url", "https://school.example/") == 0
    printed = capsys.readouterr().out
    found = LINK.findall(printed)
    assert [base for base, _ in found] == ["https://school.example"] * 2
    assert "Rhea (administrator)" in printed
    assert "Maren (chief instructor)" in printed
    settings = settings_in(data)
    with Database(open_engine(settings.database)).read() as session:
        assert {row.secret_hash for row in people.people(session)} == {"-"}
        row = people.school(session)
        assert row is not None
        assert proof.prove(session, row.vkey, []).findings == []


def test_both_join_by_their_links(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(data, *ASKED)
    app = create_app(settings_in(data))
    for _, path in LINK.findall(capsys.readouterr().out):
        who = Visitor(app.test_client())
        who.get(path)
        who.post(path, new_secret=OWN, again=OWN)
        assert "Your role needs a second factor." in who.get("/")
    app.extensions["windtee"].database.engine.dispose()


def test_nobody_is_there_before_setup_and_setup_runs_once(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(data, *ASKED) == 0
    assert run(data, *ASKED) == 1
    assert "already been set up" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("place", "typed", "words"),
    [
        ("--zone", "Kelpmoor", "is not a time zone"),
        ("--chief-email", "rhea@kelpmoor.example", "already has this e-mail address"),
        ("--admin-email", "rhea", "Enter an e-mail address"),
        ("--chief-name", " ", "Enter the name."),
    ],
)
def test_what_cannot_stand_is_said_and_no_school_is_made(
    data: Path, capsys: pytest.CaptureFixture[str], place: str, typed: str, words: str
) -> None:
    wrong = list(ASKED)
    wrong[wrong.index(place) + 1] = typed
    assert run(data, *wrong) == 2
    assert words in capsys.readouterr().err
    assert run(data, *ASKED) == 0


def test_whoever_runs_the_server_makes_a_link_when_nobody_else_can(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(data, *ASKED)
    capsys.readouterr()
    assert run(data, "invite", "rhea@kelpmoor.example") == 0
    found = LINK.search(capsys.readouterr().out)
    assert found
    app = create_app(settings_in(data))
    assert "Rhea, join Kelpmoor" in Visitor(app.test_client()).get(found[2])
    app.extensions["windtee"].database.engine.dispose()
    assert run(data, "invite", "nobody@kelpmoor.example") == 1


def test_a_school_can_begin_in_its_own_language(data: Path) -> None:
    assert run(data, *ASKED, "--language", "de") == 0
    app = create_app(settings_in(data))
    assert '<html lang="de"' in app.test_client().get("/sign-in").text
    with pytest.raises(SystemExit):
        run(data, *ASKED, "--language", "xx")
