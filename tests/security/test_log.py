"""The log: what it says of each request, and that nothing sent can be found in it."""

import io
import json
import re

import pytest
from flask import Flask
from sqlalchemy import text

from gradebook.records.tables.people import Person
from tests.card_desk import Desk
from tests.cast import SECRET, TestSchool

KEYS = {"at", "level", "event", "request", "method", "path", "actor", "status", "ms"}


def lines(capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    """The lines written since the last look."""
    return [json.loads(line) for line in capsys.readouterr().err.splitlines()]


def test_a_request_is_one_line_that_says_who_asked_for_what(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    ben = school.visitor("ben")
    lines(capsys)
    answer = ben.client.get(f"/students/{school.enrolment}?q=hidden")
    (line,) = lines(capsys)
    assert set(line) == KEYS
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", str(line["at"]))
    assert (line["method"], line["status"]) == ("GET", 200)
    assert line["path"] == f"/students/{school.enrolment}"
    assert line["actor"] == school.ids["ben"]
    assert float(str(line["ms"])) > 0
    assert line["request"] == answer.headers["X-Request-Id"]


def test_nobody_chooses_the_number_of_a_request(school: TestSchool) -> None:
    client = school.visitor().client
    numbers = {
        client.get("/sign-in", headers={"X-Request-Id": "chosen"}).headers["X-Request-Id"]
        for _ in range(2)
    }
    assert len(numbers) == 2
    assert all(re.fullmatch("[0-9a-f]{16}", number) for number in numbers)


def break_page(app: Flask, words: str, cause: str = "") -> None:
    """Make the syllabus page fail with these words, caused by others."""

    def broken() -> str:
        password = words  # noqa: F841 - a local value that must not be seen
        try:
            raise KeyError(cause)
        except KeyError as why:
            raise ValueError(words) from why

    app.view_functions["syllabus.index"] = broken


def test_a_fault_is_logged_with_its_places_and_shown_with_its_number(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    ben = school.visitor("ben")
    break_page(school.app, "words of the fault")
    lines(capsys)
    page = ben.get("/syllabus", 500)
    failed, answered = lines(capsys)
    assert (failed["level"], failed["event"], answered["status"]) == ("error", "failed", 500)
    assert [one["kind"] for one in failed["raised"]] == ["ValueError", "KeyError"]
    assert any("test_log.py" in place for place in failed["raised"][0]["at"])
    assert failed["request"] == answered["request"]
    assert f"under the number {failed['request']}" in page
    assert "words of the fault" not in page
    assert "Traceback" not in page


def test_other_error_pages_show_no_number(school: TestSchool) -> None:
    assert "under the number" not in school.visitor("ben").get("/nothing", 404)


def test_nobody_writes_a_line_of_their_own(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    client = school.visitor("ben").client
    lines(capsys)
    for path in ("/lessons/x%0A%7B%22event%22:%22forged%22%7D", "/a%0D%0Ab", "/\u2028"):
        client.get(path)
    client.open("/", method="GE\nT")
    found = lines(capsys)
    assert [line["event"] for line in found] == ["answered"] * 4
    assert [line["path"] for line in found] == ["/lessons/*", *["(none of ours)"] * 3]
    assert found[3]["method"] == "*"


def canary(number: int) -> str:
    """A word that stands nowhere else."""
    return f"canary{number:02d}x{number * 7919 % 1000:03d}"


def send_canaries(school: TestSchool) -> list[str]:
    """Send twenty canaries every way there is; what else must not be seen comes back too."""
    word = [canary(number) for number in range(20)]
    desk = Desk(school)
    desk.save(remarks=word[0], remark__hover=word[1], ident=word[2])
    desk.save(422, remark__hover=word[3] + "x" * 2000)
    desk.save(422, remarks=f"{word[4]}\0")
    ben = desk.ben.client
    ben.get(f"/students?q={word[5]}")
    ben.get(f"/{word[6]}")
    ben.get("/", headers={"Referer": f"http://localhost/{word[7]}", "User-Agent": word[8]})
    ben.get("/", headers={"Authorization": f"Bearer {word[9]}", "Host": f"{word[10]}.example"})
    ben.post("/theme", json={"next": word[11]})
    ben.post("/theme", data={"csrf_token": word[12]})
    ben.post("/sign-out", data=word[13] * 200_000)
    someone = school.visitor()
    someone.get("/sign-in")
    someone.post("/sign-in", 422, email=f"{word[14]}@school.example", secret=word[15])
    cleo = school.visitor("cleo")
    file = (io.BytesIO(f"name,email\n{word[16]},x\n".encode()), f"{word[17]}.csv")
    cleo.send("/import/preview", {"file": file}, 422)
    break_page(school.app, word[18], word[19])
    desk.ben.get("/syllabus", 500)
    cookies = [cookie.value for cookie in ben._cookies.values()]
    return [*word, *cookies, desk.ben.token, cleo.token, SECRET, "ben@school.example"]


def test_nothing_that_was_sent_stands_in_the_log(
    school: TestSchool, capfd: pytest.CaptureFixture[str]
) -> None:
    hidden = send_canaries(school)
    captured = capfd.readouterr()
    told = captured.out + captured.err
    assert told.count('"event": "answered"') > 20
    assert '"event": "failed"' in told
    assert len(hidden) >= 24
    assert [one for one in hidden if one in told] == []


def test_a_fault_of_the_database_does_not_quote_what_was_to_be_written(
    either_school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    ben = either_school.visitor("ben")

    def broken() -> str:
        with either_school.database.write() as session:
            session.add(Person(id="x", name=canary(1), email="ana@school.example"))
            session.execute(text("SELECT nothing FROM nowhere WHERE x = :x"), {"x": canary(2)})
        return ""

    either_school.app.view_functions["syllabus.index"] = broken
    ben.get("/syllabus", 500)
    told = capsys.readouterr().err
    assert "Error" in told
    assert canary(1) not in told
    assert canary(2) not in told
