"""Whether a ZIP file is what it seems: few members, honest names, no bomb. Pure.

What it unpacks to is counted while unpacking, for a file may lie about its size.
"""

import io
import stat
import zipfile
import zlib
from pathlib import PurePosixPath

MIB = 1024 * 1024
MOST_IN = 10 * MIB
MOST_OUT = 50 * MIB
MOST_MEMBERS = 200
MOST_RATIO = 100
CHUNK = 64 * 1024
PACKED = (
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"\x1f\x8b",
    b"BZh",
    b"\xfd7zXZ",
    b"7z\xbc\xaf",
    b"Rar!",
)
"""What a packed file starts with; a workbook has no reason to hold another."""


class ArchiveError(Exception):
    """A file that will not be opened; the message says why."""


def check_archive(data: bytes) -> None:
    """ArchiveError for what is no ZIP, a bomb, or holds what it should not."""
    if len(data) > MOST_IN:
        raise ArchiveError(f"The file is larger than {MOST_IN // MIB} MiB.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                raise ArchiveError(f"The file holds more than {MOST_MEMBERS} parts.")
            left = MOST_OUT
            for member in members:
                _check_member(member)
                left -= _unpacked(archive, member, left)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as why:
        raise ArchiveError("The file is damaged.") from why


def _check_member(member: zipfile.ZipInfo) -> None:
    path = PurePosixPath(member.orig_filename)
    strange = path.is_absolute() or ".." in path.parts or set("\\:\0") & set(str(path))
    if strange or stat.S_ISLNK(member.external_attr >> 16):
        raise ArchiveError("The file holds a part with the name of a place elsewhere.")
    if member.flag_bits & 1:
        raise ArchiveError("The file is encrypted. Save it without a password.")


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, left: int) -> int:
    """How much a member unpacks to, read to its end; ArchiveError as soon as it is too much."""
    size = 0
    with archive.open(member) as part:
        while chunk := part.read(CHUNK):
            if size == 0 and chunk.startswith(PACKED):
                raise ArchiveError("The file holds another packed file.")
            size += len(chunk)
            if size > left:
                raise ArchiveError(f"The file unpacks to more than {MOST_OUT // MIB} MiB.")
            if size > MOST_RATIO * max(member.compress_size, CHUNK // MOST_RATIO):
                raise ArchiveError("The file unpacks to far more than it should.")
    return size
