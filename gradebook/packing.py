"""What shrinks on the wire, and gzip as we make it."""

import gzip
from io import BytesIO

LEAST = 500
"""Bytes below which packing gains nothing."""
KINDS = ("text/", "application/json", "application/manifest+json", "image/svg+xml")


def shrinks(kind: str, content: bytes) -> bool:
    """Whether content of this media type is worth packing."""
    return len(content) >= LEAST and kind.startswith(KINDS)


def packed(content: bytes, level: int = 6, name: str = "") -> bytes:
    """The content as gzip (RFC 1952); always the same for the same name."""
    file = BytesIO()
    with gzip.GzipFile(name, "wb", level, file, mtime=0) as packing:
        packing.write(content)
    return file.getvalue()
