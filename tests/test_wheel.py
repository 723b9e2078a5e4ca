"""What an installed Windtee holds: both packages, and every file that ships with them."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.run import ROOT
from tests.tree import kept_files


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    options = ("--wheel", "--no-isolation", "--outdir", folder, ROOT)
    done = subprocess.run(
        [sys.executable, "-m", "build", *options], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (path,) = folder.glob("windtee-*-py3-none-any.whl")
    return path


def files_in(wheel: Path, folder: str) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    return {name.removeprefix(f"{folder}/") for name in names if name.startswith(f"{folder}/")}


def files_on_disk(folder: str) -> set[str]:
    return {str(path.relative_to(ROOT / folder)) for path in kept_files(folder)}


@pytest.mark.parametrize("folder", ["templates", "static", "seed_data"])
def test_the_folders_beside_the_packages_ship_whole(wheel, folder):
    assert files_in(wheel, f"gradebook/{folder}") == files_on_disk(folder)


@pytest.mark.parametrize("package", ["gradebook", "syllabus"])
def test_both_packages_ship_whole(wheel, package):
    shipped = files_in(wheel, package)
    beside = tuple(f"{name}/" for name in ("templates", "static", "seed_data"))
    assert {name for name in shipped if not name.startswith(beside)} == files_on_disk(package)


def test_nothing_else_ships(wheel):
    with zipfile.ZipFile(wheel) as archive:
        tops = {name.split("/")[0].rpartition(".")[2] for name in archive.namelist()}
    assert tops == {"gradebook", "syllabus", "dist-info"}


def test_the_command_is_called_windtee(wheel):
    with zipfile.ZipFile(wheel) as archive:
        (entries,) = (n for n in archive.namelist() if n.endswith("/entry_points.txt"))
        assert "windtee = gradebook.cli:main" in archive.read(entries).decode()
