"""One module is read by another text than its own, in this process and in those it starts."""

import os
import sys
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from pathlib import Path
from types import CodeType, ModuleType

NAME, TEXT = "SPOILT_NAME", "SPOILT_TEXT"
EVERYWHERE = Path(__file__).parent / "everywhere"


class _Spoilt(SourceFileLoader):
    def get_code(self, fullname: str) -> CodeType:
        return compile(os.environ[TEXT], self.get_filename(fullname), "exec")


class _Finder(PathFinder):
    @classmethod
    def find_spec(
        cls, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname != os.environ[NAME]:
            return None
        found = super().find_spec(fullname, path, target)
        if found is not None and found.origin is not None:
            found.loader = _Spoilt(fullname, found.origin)
        return found


def read_spoilt(name: str, text: str, root: Path) -> None:
    """From now on this text is read where the module is imported."""
    os.environ |= {NAME: name, TEXT: text, "PYTHONPATH": f"{EVERYWHERE}{os.pathsep}{root}"}
    begin()


def begin() -> None:
    """Read as the environment says; a process that was started does so by `sitecustomize`."""
    sys.meta_path.insert(0, _Finder)
