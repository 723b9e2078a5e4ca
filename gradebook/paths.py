"""Where the files that ship with the program lie: inside the wheel, or beside the checkout."""

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
