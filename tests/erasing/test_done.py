"""The whole way: asked for and confirmed in the browser, carried out, restored."""

from datetime import timedelta
from pathlib import Path

import pytest

from gradebook.cli import main
from gradebook.records import erasure, headway
from gradebook.records.commands import carrying
from gradebook.records.database import open_engine
from gradebook.records.keeping import backup
from gradebook.records.tables import Table
from tests.cast import SECRET, SEED, TestSchool
from tests.erasing.gone import (
    BASIS,
    CANARIES,
    EMAIL,
    NAME,
    agreed,
    in_files,
    leave_traces,
    told_of,
)
from tests.walks.test_import import upload


def command(school: TestSchool, *words: str) -> int:
    """Run a command on the school's folder, with its own key."""
    (school.settings.data / "school.key").write_text(SEED.hex())
    return main([*words, "--data", str(school.settings.data)])


def asked_and_confirmed(school: TestSchool) -> None:
    """Cleo asks too early, then by name, then rightly; Flo mistypes, then confirms."""
    cleo, ask = school.visitor("cleo"), f"/retention/students/{school.ids['ana']}"
    assert "Retention runs through" in cleo.get(ask)
    early = cleo.post(ask, 422, basis=BASIS, secret=SECRET)
    assert "Before that it takes a law that asks for it." in early
    school.clock.at += timedelta(days=366 * 6)
    cleo = school.visitor("cleo")
    assert NAME in cleo.get("/retention")
    cleo.get(ask)
    named = cleo.post(ask, 422, basis=f"{NAME} wants it gone.", secret=SECRET)
    assert "Leave the student&#39;s name out" in named
    page = cleo.send(ask, {"basis": BASIS, "secret": SECRET})
    request = page.request.path
    cleo.post(request, 403, name=NAME, secret=SECRET)
    flo = school.visitor("flo")
    flo.get(request)
    assert "This is not the student&#39;s name." in flo.post(
        request, 422, name="X", secret=SECRET
    )
    assert "windtee erase" in flo.post(request, name=NAME.upper(), secret=SECRET)


def preview_and_leave(school: TestSchool) -> None:
    """Cleo previews a file that names the student, and the files of a job are left."""
    cleo = school.visitor("cleo")
    cleo.get("/import")
    row = f"{NAME},{EMAIL},small,2026-05-01,ben@school.example"
    upload(cleo, f"name,email,course,enrolled_on,instructor_email\n{row}\n")
    folder = headway.folder_in(school.settings.data)
    with headway.held(folder, "1" * 32):
        headway.teller(folder, "1" * 32)("write", 1, 2)


def test_two_people_ask_and_confirm_and_the_command_erases(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    leave_traces(school)
    kept = backup.back_up(
        school.settings, school.database, backup.Wanted(backup.folder_in(school.settings.data))
    )
    asked_and_confirmed(school)
    preview_and_leave(school)
    assert command(school, "erase", "--dry-run") == 0
    assert "1 uploaded files that wait would go too." in capsys.readouterr().out
    assert in_files(school.settings.data, *CANARIES)
    assert command(school, "erase") == 0
    said = capsys.readouterr()
    assert kept.name in said.err
    assert "3 files deleted that waited to be imported or told of long work" in said.out
    assert in_files(school.settings.data, *CANARIES) == []
    assert command(school, "verify") == 0
    assert "erased (by entry" in capsys.readouterr().out
    assert command(school, "rebuild") == 0
    assert command(school, "erase") == 0
    assert "Nothing waits to be erased." in capsys.readouterr().out

    new = tmp_path / "restored"
    capsys.readouterr()
    main(["restore", str(kept), "--data", str(new)])
    assert "1 erasures made since were done again." in capsys.readouterr().out
    assert in_files(new, *CANARIES) == []


def test_an_older_copy_without_its_notices_is_not_served(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    leave_traces(school)
    apart = tmp_path / "apart"
    kept = backup.back_up(school.settings, school.database, backup.Wanted(apart / "deep"))
    agreed(school)
    assert command(school, "erase") == 0
    new = tmp_path / "restored"
    assert main(["restore", str(kept), "--data", str(new)]) == 0
    assert in_files(new, *CANARIES)
    for notice in (school.settings.data / "checkpoints").glob("*.erasure"):
        (new / "checkpoints" / notice.name).write_bytes(notice.read_bytes())
    (new / "school.key").write_text(SEED.hex())
    capsys.readouterr()
    assert main(["serve", "--data", str(new), "--port", "8821"]) == 1
    assert "run windtee erase" in capsys.readouterr().err
    assert main(["erase", "--data", str(new)]) == 0
    assert in_files(new, *CANARIES) == []
    assert main(["verify", "--data", str(new)]) == 0


def test_a_cut_in_the_middle_changes_nothing(
    either_school: TestSchool, monkeypatch: pytest.MonkeyPatch
) -> None:
    school = either_school
    leave_traces(school)
    request = agreed(school)
    before = told_of(school, *CANARIES)

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(carrying, "_prove", cut)
    engine = open_engine(school.settings.owning)
    with pytest.raises(KeyboardInterrupt):
        carrying.carry_out(engine, carrying.House(SEED), request, school.clock.at)
    engine.dispose()
    assert told_of(school, *CANARIES) == before


def test_a_running_enrolment_is_not_erased(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    cleo.get(f"/retention/students/{school.ids['hal']}")
    fields = {"basis": BASIS, "early": "y", "secret": SECRET}
    cleo.send(f"/retention/students/{school.ids['hal']}", fields, 409)


def test_every_table_is_spoken_of() -> None:
    said = {
        *(one for one, _ in (*erasure.OF_RECORD, *erasure.OF_ENROLMENT, *erasure.OF_ACCOUNT)),
        *erasure.BLANKED,
        *erasure.FORGOTTEN,
        *erasure.NOT_ABOUT_STUDENTS,
    }
    assert {one.__tablename__ for one in said} == set(Table.metadata.tables)
