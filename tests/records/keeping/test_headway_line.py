"""What long commands say of their headway: on a terminal a line that goes, else nothing.

The terminal is a real one, of the kernel's (pty); its columns are read back as a screen.
"""

import os
import pty
import re
import termios
import threading
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

import pytest

from gradebook.cli import main
from tests.cast import SEED, TestSchool
from tests.walks.test_main_job import sign_first_lesson

COLUMNS = 60
PROVED = re.compile(r"\d+ of (\d+) entries read \.\.\.")


def on_terminal(*words: str) -> str:
    """All that a command wrote to its terminal, line ends as the terminal made them."""
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (24, COLUMNS))
    parts: list[bytes] = []

    def read() -> None:
        with suppress(OSError):  # what Linux answers once the other end is closed
            while part := os.read(ours, 4096):
                parts.append(part)

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    with os.fdopen(theirs, "w") as file, redirect_stdout(file), redirect_stderr(file):
        assert main(list(words)) == 0
    reader.join(60)
    os.close(ours)
    return b"".join(parts).decode()


@pytest.fixture
def signed(school: TestSchool) -> TestSchool:
    """A school with a signed record, whose key lies in its folder."""
    sign_first_lesson(school)
    (school.settings.data / "school.key").write_text(SEED.hex())
    return school


def screen(written: str) -> list[str]:
    """The lines that are seen in the end: a carriage return goes back to write over them."""
    seen = []
    for line in written.split("\r\n"):
        cells: list[str] = []
        for part in line.split("\r"):
            cells[: len(part)] = part
        seen.append("".join(cells).rstrip())
    return seen


def assert_gone(written: str, result: str) -> None:
    """The counts were wiped away before the result was written, and its lines are whole."""
    began = re.search(result, written)
    assert began
    assert screen(written[: began.start()]) == [""]
    seen = screen(written)
    assert re.match(result, seen[0])
    assert not any("..." in line for line in seen)
    assert seen[-1] == "", "what is typed next begins a line of its own"


def test_verify_counts_on_a_terminal_and_leaves_its_verdict_alone(
    signed: TestSchool,
) -> None:
    written = on_terminal("verify", "--data", str(signed.settings.data))
    counted = PROVED.search(written)
    assert counted
    assert int(counted[1]) > 0
    counts = [part for part in re.split(r"[\r\n]", written) if "..." in part]
    assert max(map(len, counts)) < COLUMNS, "a line that wraps could not be written over"
    assert_gone(written, rf"{counted[1]} entries, \d+ rows, ")


def test_backup_counts_on_a_terminal_and_leaves_the_name_of_its_file_alone(
    signed: TestSchool,
) -> None:
    written = on_terminal("backup", "--data", str(signed.settings.data))
    assert "Copying the database ..." in written
    assert "Packing ..." in written
    assert_gone(written, r"\S+ \(\d+ bytes\)\.")


def test_nothing_is_counted_where_nobody_looks(
    signed: TestSchool, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = ["--data", str(signed.settings.data)]
    assert main(["verify", *folder]) == 0
    assert main(["backup", *folder, "--to", str(tmp_path)]) == 0
    told = capfd.readouterr()
    assert told.err == ""
    assert "entries, " in told.out
    assert "\r" not in told.out
    assert "..." not in told.out
