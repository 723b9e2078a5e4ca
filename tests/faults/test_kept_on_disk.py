"""What has to outlast a power cut is on the disk, name and all, before it is counted on."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from gradebook.settings import NEXT_KEY, SCHOOL_KEY
from tests.cast import SEED, TestSchool
from tests.faults.powercut import ALONE
from tests.run import ROOT, STRACE

CALL = re.compile(r"(?:\d+ +)?(write|fsync|rename)\((?:\d+<([^>]+)>|\"([^\"]+)\")")


def calls(school: TestSchool, trace: Path, *words: str) -> list[tuple[str, str]]:
    """What a command asked of the disk: the call, and the name in the school's folder."""
    data = school.settings.data
    (data / SCHOOL_KEY).write_text(SEED.hex())
    command = [sys.executable, "-m", "gradebook", *words, "--data", data]
    subprocess.run(
        [STRACE, "-f", "-y", "-qq", "-e", "trace=write,fsync,rename", "-o", trace, *command],
        cwd=ROOT, env={**os.environ, **ALONE}, check=True, capture_output=True,
    )  # fmt: skip
    found = (CALL.match(line) for line in trace.read_text().splitlines())
    seen = [(one[1], Path(one[2] or one[3])) for one in found if one]
    return [
        (name, str(path.relative_to(data))) for name, path in seen if path.is_relative_to(data)
    ]


def in_order(seen: list[tuple[str, str]], *wanted: tuple[str, str]) -> bool:
    """Whether these calls came, one after another."""
    rest = iter(seen)
    return all(one in rest for one in wanted)


def test_a_checkpoint_is_on_the_disk_whole_before_it_has_its_name(
    school: TestSchool, tmp_path: Path
) -> None:
    seen = calls(school, tmp_path / "trace", "checkpoint")
    (note,) = (school.settings.data / "checkpoints").glob("*.note")
    unfinished = next(name for call, name in seen if call == "rename")
    assert unfinished != f"checkpoints/{note.name}"
    assert in_order(
        seen,
        ("write", unfinished),
        ("fsync", unfinished),
        ("rename", unfinished),
        ("fsync", "checkpoints"),
    )


@pytest.mark.parametrize(
    "words",
    [("rotate",), ("compromised", "--good-size", "1", "--why", "x")],
    ids=["in order", "compromised"],
)
def test_a_new_key_is_on_the_disk_before_the_ledger_knows_it(
    school: TestSchool, tmp_path: Path, words: tuple[str, ...]
) -> None:
    """Else a power cut could leave a ledger whose key nobody has."""
    seen = calls(school, tmp_path / "trace", "key", *words)
    seen = seen[seen.index(("write", NEXT_KEY)) :]
    until = seen.index(("fsync", "windtee.db-wal"))
    assert in_order(seen[:until], ("fsync", NEXT_KEY), ("fsync", "."))
    assert in_order(seen[until:], ("rename", NEXT_KEY), ("fsync", "."))
