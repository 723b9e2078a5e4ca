"""Backups packed anew by somebody who knows the format, with one thing changed: refused."""

import gzip
import json
import shutil
import tarfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from gradebook.ledger import keys
from gradebook.ledger.canonical import canonical
from gradebook.ledger.succession import Succession
from gradebook.records import checkpoints
from gradebook.records.keeping import backup, restore
from gradebook.records.keeping.manifest import DOMAIN, BackupError
from tests.cast import SEED, TestSchool, close_school, open_school
from tests.walks.test_main_job import sign_first_lesson

NAME = "database.sqlite"


@dataclass
class Forgery:
    """A backup taken apart: its manifest, and its other members."""

    manifest: dict[str, Any]
    members: list[tuple[tarfile.TarInfo, bytes]]

    @property
    def head(self) -> tarfile.TarInfo:
        return self.members[0][0]

    def sign(self, seed: bytes) -> None:
        said = {name: self.manifest[name] for name in self.manifest if name != "signature"}
        said |= {"public": keys.public_of(seed).hex()}
        self.manifest = {**said, "signature": keys.sign(seed, DOMAIN + canonical(said)).hex()}

    def pack(self, target: Path) -> Path:
        text = json.dumps(self.manifest).encode()
        first = tarfile.TarInfo("manifest.json")
        first.size = len(text)
        whole = b"".join(
            head.tobuf(tarfile.PAX_FORMAT) + content + bytes(-len(content) % 512)
            for head, content in [(first, text), *self.members]
        )
        target.write_bytes(gzip.compress(whole + bytes(1024)))
        return target


def content(made: Forgery) -> None:
    assert b"explain" in made.members[0][1]
    made.members[0] = (made.head, made.members[0][1].replace(b"explain", b"perform"))


def a_name_that_climbs(made: Forgery) -> None:
    made.manifest["members"]["../evil.key"] = made.manifest["members"][NAME]
    made.head.name = "../evil.key"


def an_absolute_name(made: Forgery) -> None:
    made.manifest["members"]["/evil.key"] = {"size": 0, "sha256": ""}


def a_link(made: Forgery) -> None:
    made.head.type, made.head.linkname = tarfile.SYMTYPE, "/etc/hostname"


def a_link_in_a_plain_file(made: Forgery) -> None:
    made.head.linkname = "/etc/hostname"


def one_more_file(made: Forgery) -> None:
    made.members.append((tarfile.TarInfo("school.key"), b""))


def a_file_twice(made: Forgery) -> None:
    made.members.append(made.members[0])


def a_size_that_swells(made: Forgery) -> None:
    made.head.size = made.manifest["members"][NAME]["size"] = 10**15


def a_size_below_nought(made: Forgery) -> None:
    made.manifest["members"][NAME]["size"] = -1


def another_format(made: Forgery) -> None:
    made.manifest["format"] = "windtee-backup/9"


def a_manifest_that_says_nothing(made: Forgery) -> None:
    made.manifest = {"format": made.manifest["format"]}


def a_manifest_that_is_a_list(made: Forgery) -> None:
    made.manifest = []  # type: ignore[assignment]


def no_database(made: Forgery) -> None:
    made.manifest["members"], made.members = {}, []


def a_long_name(made: Forgery) -> None:
    made.head.name = "checkpoints/" + "a" * 200 + ".note"


def a_database_of_another_kind(made: Forgery) -> None:
    made.manifest["database"] = "postgresql"


FORGERIES = [
    content, a_name_that_climbs, an_absolute_name, a_link, a_link_in_a_plain_file,
    one_more_file, a_file_twice, a_size_that_swells, a_size_below_nought, another_format,
    a_manifest_that_says_nothing, a_manifest_that_is_a_list, no_database, a_long_name,
    a_database_of_another_kind,
]  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestSchool, Path]]:
    school = open_school(tmp_path_factory.mktemp("school"))
    sign_first_lesson(school)
    shutil.rmtree(school.settings.data / checkpoints.FOLDER)  # the database comes first
    folder = backup.folder_in(school.settings.data)
    yield school, backup.back_up(school.settings, school.database, backup.Wanted(folder))
    close_school(school)


def taken_apart(file: Path) -> Forgery:
    with tarfile.open(file) as tar:
        members = [(one, tar.extractfile(one).read()) for one in tar]  # type: ignore[union-attr]
    return Forgery(json.loads(members[0][1]), members[1:])


@pytest.mark.parametrize("change", FORGERIES, ids=lambda change: change.__name__)
def test_a_forged_backup_is_refused_and_leaves_nothing(
    made: tuple[TestSchool, Path], tmp_path: Path, change: Callable[[Forgery], None]
) -> None:
    forgery = taken_apart(made[1])
    change(forgery)
    file = forgery.pack(tmp_path / "forged")
    with pytest.raises(BackupError):
        restore.restore(restore.Wanted(file, tmp_path / "new"), made[0].clock)
    assert [path.name for path in tmp_path.iterdir()] == ["forged"]


def test_a_backup_packed_anew_without_change_is_taken(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    file = taken_apart(made[1]).pack(tmp_path / "same")
    wanted = restore.Wanted(file, tmp_path / "new")
    assert restore.restore(wanted, made[0].clock).code == 0


def test_a_count_changed_in_the_manifest_is_refused(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    forgery = taken_apart(made[1])
    forgery.manifest["rows"]["grade"] += 1
    refused(forgery, made[0], tmp_path, "not what its key signed")


def test_a_manifest_signed_by_another_key_is_refused(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    forgery = taken_apart(made[1])
    forgery.sign(bytes(32))
    refused(forgery, made[0], tmp_path, "another key than the school's")


def test_a_backup_of_another_school_is_no_backup_of_this_one(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    line = Succession()
    line.begin(keys.public_of(bytes(32)))
    with pytest.raises(BackupError, match="no key that this school had then"):
        restore.restore(restore.Wanted(made[1], tmp_path / "new", line=line), made[0].clock)


def test_a_manifest_without_its_signature_is_refused_until_asked_for(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    forgery = taken_apart(made[1])
    for name in ("public", "signature"):
        del forgery.manifest[name]
    forgery.manifest["format"] = "windtee-backup/1"
    refused(forgery, made[0], tmp_path, "Nobody signed")
    wanted = restore.Wanted(tmp_path / "forged", tmp_path / "new", unsigned=True)
    assert restore.restore(wanted, made[0].clock).code == 0


def refused(forgery: Forgery, school: TestSchool, folder: Path, words: str) -> None:
    file = forgery.pack(folder / "forged")
    with pytest.raises(BackupError, match=words):
        restore.restore(restore.Wanted(file, folder / "new"), school.clock)
    assert [path.name for path in folder.iterdir()] == ["forged"]


def test_counts_that_do_not_fit_are_told(made: tuple[TestSchool, Path], tmp_path: Path) -> None:
    forgery = taken_apart(made[1])
    forgery.manifest["rows"]["grade"] += 1
    forgery.sign(SEED)
    file = forgery.pack(tmp_path / "counted")
    found = restore.restore(restore.Wanted(file, tmp_path / "new"), made[0].clock)
    assert found.code == 2
    assert found.differing == ["grade: 4 rows were backed up, 3 are there"]
