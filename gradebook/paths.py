"""Where files lie: what ships with the program, in wheel or checkout, and a school's own."""

import os
from pathlib import Path

import platformdirs

PACKAGE = Path(__file__).resolve().parent


def bundled(name: str) -> Path:
    """Folder `name` (templates, static, seed_data); FileNotFoundError when not installed."""
    for folder in (PACKAGE / name, PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"{name!r} ships with gradebook but is not installed")


def default_data() -> Path:
    """The per-user folder a school's data lives in when `--data` names no other."""
    return Path(platformdirs.user_data_dir("windtee", appauthor=False))


def to_disk(folder: Path) -> None:
    """Have the names in a folder written to the disk, which flushing a file need not do."""
    if os.name == "nt":
        return  # a folder cannot be opened there
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
