"""The files that pages are made of, read and packed once."""

import mimetypes
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from posixpath import dirname, join, normpath

from gradebook.packing import PACKINGS, lean, packed, shrinks
from gradebook.paths import bundled

SHEET = "css/pages.css"
"""The sheet of every page: one file made of PARTS, the last of them for print alone."""
PARTS = tuple(
    f"css/{name}.css" for name in ("tokens", "base", "layout", "components", "charts", "print")
)

IMPORT = re.compile(r'^import\s[^"]*"([^"]+)";', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Asset:
    """One file: its media type, its content without remarks, and that packed, by packing."""

    kind: str
    content: bytes
    packed: Mapping[str, bytes]


@cache
def assets() -> Mapping[str, Asset]:
    """Every file by its name below `static`, in the order of names."""
    root = bundled("static")
    paths = (path for path in root.rglob("*") if path.is_file())
    found = {path.relative_to(root).as_posix(): path.read_bytes() for path in paths}
    *screen, paper = (found[name] for name in PARTS)
    found[SHEET] = b"\n".join((*screen, b"@media print {", paper, b"}"))
    return {name: _asset(name, found[name]) for name in sorted(found)}


def _asset(name: str, content: bytes) -> Asset:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    content = lean(kind, content)
    packings = PACKINGS if shrinks(kind, content) else ()
    return Asset(kind, content, {one: packed(content, one, for_good=True) for one in packings})


@cache
def scripts(*names: str) -> tuple[str, ...]:
    """These scripts and all that they need before they run, in the order found."""
    found: dict[str, None] = {}
    for name in names:
        waiting = [name]
        while waiting:
            here = waiting.pop(0)
            if here not in found:
                found[here] = None
                imports = IMPORT.findall(assets()[here].content.decode())
                waiting += [normpath(join(dirname(here), one)) for one in imports]
    return tuple(found)


@cache
def version() -> str:
    """The digest of all files, as their addresses hold it."""
    every = sha256()
    for name, asset in assets().items():
        every.update(f"{name} {len(asset.content)} ".encode() + asset.content)
    return every.hexdigest()[:12]
