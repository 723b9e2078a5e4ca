"""`windtee verify FILE`: one file, no database; every change to a genuine one is told."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from gradebook.cli import main
from gradebook.ledger.bundle import fingerprint
from gradebook.ledger.canonical import jcs
from tests.cast import close_school, open_school
from tests.copies.paper_trail import certify, whole_course

Fields = dict[str, Any]
Change = Callable[[Fields], object]


@pytest.fixture(scope="module")
def genuine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[bytes]:
    """A certified copy of the whole small course."""
    school = open_school(tmp_path_factory.mktemp("school"))
    whole_course(school)
    yield certify(school)
    close_school(school)


def code(folder: Path, data: bytes, *words: str) -> int:
    """The exit code of the command for a file of these bytes."""
    file = folder / "ana.windtee-record"
    file.write_bytes(data)
    return main(["verify", str(file), *words])


def key_of(data: bytes) -> str:
    return fingerprint(json.loads(data)["vkey"])


def test_a_genuine_file_is_good_under_its_key(
    genuine: bytes,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert code(tmp_path, genuine, "--key", key_of(genuine)) == 0
    told = capsys.readouterr().out
    assert told.startswith("Good: whole and unaltered, certified by test-school-")
    assert [one.name for one in tmp_path.iterdir()] == ["ana.windtee-record"]


def test_without_a_key_the_command_says_what_to_compare(
    genuine: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code(tmp_path, genuine) == 0
    told = capsys.readouterr().out
    assert "compare the fingerprint" in told
    assert key_of(genuine) in told


def test_another_key_is_an_unknown_one(genuine: bytes, tmp_path: Path) -> None:
    assert code(tmp_path, genuine, "--key", "0000 " + key_of(genuine)[5:]) == 4


def test_what_is_no_file_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(tmp_path / "nothing")]) == 5
    assert (
        capsys.readouterr().err
        == f"{tmp_path / 'nothing'} cannot be read: No such file or directory.\n"
    )
    assert code(tmp_path, b"") == 5
    assert code(tmp_path, b"%PDF-1.7\n") == 5
    assert "save the file attached to it" in capsys.readouterr().err


def entry(kind: str) -> Callable[[Fields], Fields]:
    """The last entry of a kind."""
    return lambda fields: [
        one for one in fields["entries"] if json.loads(one["statement"])["type"] == kind
    ][-1]


def said(kind: str, change: Change) -> Change:
    """A change inside the statement of an entry."""

    def spoil(fields: Fields) -> None:
        found = entry(kind)(fields)
        statement = json.loads(found["statement"])
        change(statement)
        found["statement"] = jcs(statement).decode()

    return spoil


def placed(kind: str, name: str, value: object) -> Change:
    """A change inside an entry."""

    def spoil(fields: Fields) -> None:
        found = entry(kind)(fields)
        told = json.loads(found["entry"])
        told[name] = value
        found["entry"] = jcs(told).decode()

    return spoil


def lesson(**changes: object) -> Change:
    return lambda fields: fields["shown"]["lessons"][0].update(changes)


def drop(kind: str) -> Change:
    return lambda fields: fields["entries"].remove(entry(kind)(fields))


def first_grade(fields: Fields) -> Fields:
    grade: Fields = fields["shown"]["lessons"][0]["grades"][0]
    return grade


MUTATIONS: dict[str, tuple[Change, set[int]]] = {
    "a grade shown better": (lambda f: first_grade(f).update(words="Perfect"), {2}),
    "a grade signed better": (
        said("record.sign", lambda s: s["body"]["grades"][0].update(level="describe")),
        {2},
    ),
    "a remark written": (said("record.sign", lambda s: s["body"].update(remarks="Fine")), {2}),
    "another student": (lambda f: f["subject"].update(name="Bea"), {2}),
    "another course": (lambda f: f["subject"].update(course="Large course"), {2}),
    "another enrolment": (lambda f: f["subject"].update(enrolment="0" * 32), {2}),
    "a void record alive": (lesson(void=None, counts=True), {2}),
    "a disagreement agreed": (
        said("record.disagree", lambda s: s.update(type="record.ack")),
        {2},
    ),
    "a gap forgotten": (lambda f: f["shown"]["missing"].clear(), {2}),
    "a total raised": (lambda f: f["shown"]["totals"][0].update(amount=99999), {2}),
    "a test passed": (lambda f: f["shown"]["tests"][0].update(grade="Excellent"), {2}),
    "a check of another": (lambda f: f["shown"]["checks"][0].update(checker="Ben"), {2}),
    "a reason removed": (lambda f: f["shown"]["checks"][1].update(reason=""), {2}),
    "a caution removed": (lambda f: f["shown"]["cautions"].pop(), {2}),
    "another certifier": (lambda f: f["shown"]["certificate"].update(by="Dov"), {2}),
    "another purpose": (
        said("record.certify", lambda s: s["body"].update(purpose="gift")),
        {2},
    ),
    "issued another day": (lambda f: f.update(issued_at="2026-01-01T00:00:00Z"), {2}),
    "a lesson taken out": (drop("record.sign"), {3}),
    "the void taken out": (drop("record.void"), {3}),
    "the certificate taken out": (drop("record.certify"), {3}),
    "a key taken out": (drop("key.enrol"), {3, 4}),
    "a statement blanked": (lambda f: entry("record.sign")(f).update(statement=None), {2}),
    "recorded earlier": (placed("record.sign", "recorded_at", "2026-01-01T00:00:00Z"), {2}),
    "signed by another": (placed("record.sign", "kid", "0" * 32), {2, 4}),
    "another signature": (placed("record.sign", "sig", "0" * 128), {2}),
    "a shorter tree": (lambda f: f.update(checkpoint=smaller(f["checkpoint"])), {2, 3}),
    "no checkpoint": (lambda f: f.update(checkpoint=""), {5}),
    "another school": (lambda f: f.update(origin="elsewhere/windtee"), {2, 5}),
    "a key renamed": (lambda f: f["keys"][1].update(name="Dov"), {2}),
    "a proof cut": (lambda f: entry("record.sign")(f)["proof"].pop(), {2, 3}),
    "the superseded record as current": (lambda f: f.update(current=f["current"][:-1]), {6}),
    "the syllabus changed": (
        lambda f: f["revisions"][0]["files"].update({"course.toml": "code = 'x'\n"}),
        {2},
    ),
    "a field more": (lambda f: f.update(note="genuine"), {5}),
    "another format": (lambda f: f.update(format="windtee-record/2"), {5}),
}


def smaller(note: str) -> str:
    origin, size, rest = note.split("\n", 2)
    return f"{origin}\n{int(size) - 1}\n{rest}"


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_changed_file_is_refused(genuine: bytes, tmp_path: Path, name: str) -> None:
    change, codes = MUTATIONS[name]
    fields = json.loads(genuine)
    change(fields)
    assert code(tmp_path, jcs(fields), "--key", key_of(genuine)) in codes


def test_the_changes_are_what_is_refused(genuine: bytes, tmp_path: Path) -> None:
    assert len(MUTATIONS) >= 30
    assert code(tmp_path, jcs(json.loads(genuine)), "--key", key_of(genuine)) == 0
