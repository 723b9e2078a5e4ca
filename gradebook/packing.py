"""What shrinks on the wire, and how."""

import gzip
import re

import brotli

LEAST = 500
"""Bytes below which packing gains nothing."""
KINDS = ("text/", "application/json", "application/manifest+json", "image/svg+xml")
PACKINGS = ("br", "gzip")
"""By their names in HTTP, the better one first."""
REMARKS = {
    "text/css": re.compile(rb"^ */\*.*?\*/\n", re.MULTILINE | re.DOTALL),
    "text/javascript": re.compile(rb"^ *(?://[^\n]*|/\*.*?\*/)\n", re.MULTILINE | re.DOTALL),
}
"""Lines that hold a remark alone, in our scripts and sheets."""


def shrinks(kind: str, content: bytes) -> bool:
    """Whether content of this media type is worth packing."""
    return len(content) >= LEAST and kind.startswith(KINDS)


def packed(content: bytes, packing: str, *, for_good: bool = False) -> bytes:
    """The content in one of PACKINGS; `for_good` takes its time, since it is done once."""
    if packing == "br":
        return bytes(brotli.compress(content, brotli.MODE_TEXT, 11 if for_good else 5))
    return gzip.compress(content, 9 if for_good else 6, mtime=0)


def lean(kind: str, content: bytes) -> bytes:
    """A script or sheet without its lines of remarks; anything else as it is."""
    remarks = REMARKS.get(kind)
    return content if remarks is None else remarks.sub(b"", content)
