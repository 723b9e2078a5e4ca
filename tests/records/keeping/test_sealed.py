"""Sealed backups open with their key alone, and none that was touched opens at all."""

import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from gradebook.cli import main
from gradebook.records.keeping import archive, backup, restore
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.keeping.sealing import (
    CHUNK,
    LENGTH,
    MAGIC,
    TAG,
    Identity,
    Opener,
    Sealer,
)
from tests.cast import TestSchool, close_school, open_school
from tests.walks.test_main_job import sign_first_lesson

FLIPS = int(os.environ.get("WINDTEE_FLIPS", "200"))
"""How many spoilt copies are tried; the goal of 2,000 is measured with WINDTEE_FLIPS=2000."""
OWN, OTHER = Identity(b"\x11" * LENGTH), Identity(b"\x22" * LENGTH)


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestSchool, Path]]:
    school = open_school(tmp_path_factory.mktemp("school"))
    sign_first_lesson(school)
    away = tmp_path_factory.mktemp("away")
    wanted = backup.Wanted(away, sealed_for=OWN.recipient)
    yield school, backup.back_up(school.settings, school.database, wanted)
    close_school(school)


def test_a_sealed_backup_is_restored_with_its_key(
    sealed: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    wanted = restore.Wanted(sealed[1], tmp_path / "new", identity=OWN)
    assert restore.restore(wanted, sealed[0].clock).code == 0


@pytest.mark.parametrize("identity", [None, OTHER])
def test_without_its_key_it_is_refused_and_leaves_nothing(
    sealed: tuple[TestSchool, Path], tmp_path: Path, identity: Identity | None
) -> None:
    wanted = restore.Wanted(sealed[1], tmp_path / "new", identity=identity)
    with pytest.raises(BackupError, match="key"):
        restore.restore(wanted, sealed[0].clock)
    assert list(tmp_path.iterdir()) == []


def test_it_shows_nothing_of_the_school(sealed: tuple[TestSchool, Path]) -> None:
    content = sealed[1].read_bytes()
    assert b"manifest" not in content
    assert content.count(b"\x1f\x8b\x08\x00\x00\x00\x00\x00") == 0


def test_every_flip_and_every_cut_is_refused(
    sealed: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    whole, rng = sealed[1].read_bytes(), random.Random(20261129)  # noqa: S311
    for number in range(FLIPS):
        spoilt = bytearray(whole)
        if number % 4:
            at = rng.randrange(len(spoilt))
            spoilt[at] ^= 1 << rng.randrange(8)
        else:
            del spoilt[rng.randrange(len(spoilt)) :]
        file, folder = tmp_path / "spoilt", tmp_path / f"{number}"
        file.write_bytes(spoilt)
        folder.mkdir()
        with pytest.raises(BackupError):
            archive.unpack(file, folder, OWN)


@pytest.mark.parametrize("size", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK])
def test_what_is_sealed_comes_back(tmp_path: Path, size: int) -> None:
    content = random.Random(size).randbytes(size)  # noqa: S311
    assert _content(_sealed(tmp_path / "one", content)) == content


@pytest.mark.parametrize(
    "change",
    [
        lambda head, chunks: [head, *chunks[::-1]],
        lambda head, chunks: [head, *chunks[:-1]],
        lambda head, chunks: [head, *chunks[1:]],
        lambda head, chunks: [head, *chunks, chunks[-1]],
        lambda head, chunks: [head[:-LENGTH], bytes(LENGTH), *chunks],
    ],
    ids=["turned around", "the last one gone", "the first one gone", "one twice", "null key"],
)
def test_no_chunk_can_be_moved(tmp_path: Path, change) -> None:
    whole = _sealed(tmp_path / "one", bytes(3 * CHUNK)).read_bytes()
    head, rest = whole[: len(MAGIC) + LENGTH], whole[len(MAGIC) + LENGTH :]
    length = CHUNK + TAG
    chunks = [rest[at : at + length] for at in range(0, len(rest), length)]
    (tmp_path / "two").write_bytes(b"".join(change(head, chunks)))
    with pytest.raises(BackupError):
        _content(tmp_path / "two")


def _sealed(file: Path, content: bytes) -> Path:
    with file.open("wb") as raw, Sealer(raw, OWN.recipient) as sealer:
        sealer.write(content)
    return file


def _content(file: Path) -> bytes:
    with file.open("rb") as raw, Opener(raw, OWN) as opener:
        return opener.readall()


def test_the_commands_make_a_key_seal_and_restore(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sign_first_lesson(school)
    (school.settings.data / "school.key").write_text(school.settings.seed.hex())
    data, key = str(school.settings.data), str(tmp_path / "key")
    assert main(["backup-key", key]) == 0
    assert Path(key).stat().st_mode & 0o777 == 0o600
    line = capsys.readouterr().out.split()[-1]
    assert main(["backup-key", key]) == 1
    away = str(tmp_path / "away")
    assert main(["backup", "--data", data, "--to", away, "--recipient", line]) == 0
    assert main(["drill", "--data", data, "--of", away, "--key-file", key]) == 0
    (file,) = (tmp_path / "away").iterdir()
    new = str(tmp_path / "new")
    assert main(["restore", str(file), "--data", new]) == 1
    assert main(["restore", str(file), "--data", new, "--key-file", key]) == 0
    assert main(["backup", "--data", data, "--to", away, "--recipient", "mine"]) == 1
