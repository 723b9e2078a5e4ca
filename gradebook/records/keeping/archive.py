"""The file of a backup: a gzipped tar whose first member, the manifest, vouches for the rest.

It is read as plainly as possible: plain files, names the manifest lists, sizes counted. Links,
long names and whatever else a tar can hold are refused unread.
"""

import gzip
import hashlib
import io
import os
import shutil
import tarfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import BinaryIO, cast

from gradebook.records.jobs import Tell, silent
from gradebook.records.keeping.manifest import BackupError, Manifest, Member, manifest_from
from gradebook.records.keeping.sealing import Identity, Opener, Recipient, Sealer, is_sealed

MANIFEST = "manifest.json"
BLOCK = tarfile.BLOCKSIZE
CHUNK = 1 << 20
LARGEST_MANIFEST = 1 << 20
MB = 10**6
DAMAGED = (EOFError, zlib.error, tarfile.TarError, gzip.BadGzipFile, UnicodeDecodeError)


def measure(files: Mapping[str, Path]) -> dict[str, Member]:
    """Size and SHA-256 of each file, by its name in the archive."""
    found = {}
    for name, path in sorted(files.items()):
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        found[name] = Member(path.stat().st_size, digest)
    return found


class _Told:
    """A file that is read while somebody is told how much of all is packed."""

    def __init__(self, tell: Tell, total: int) -> None:
        self._tell, self._total, self._done = tell, total, 0
        self.file: BinaryIO = io.BytesIO()

    def read(self, size: int) -> bytes:
        """The next bytes of the file that is open now."""
        found = self.file.read(size)
        self._done += len(found)
        self._tell("pack", self._done // MB, self._total // MB)
        return found


def pack(
    target: Path,
    files: Mapping[str, Path],
    manifest: bytes,
    sealed_for: Recipient | None,
    tell: Tell = silent,
) -> None:
    """Write the archive to `target` and to the disk; OSError when there is no room.

    The files come in the order of their names.
    """
    told = _Told(tell, sum(path.stat().st_size for path in files.values()))
    descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as raw:
        with (
            nullcontext(raw) if sealed_for is None else Sealer(raw, sealed_for) as out,
            gzip.GzipFile(
                filename="", fileobj=cast("BinaryIO", out), mode="wb", compresslevel=6, mtime=0
            ) as whole,
            tarfile.open(fileobj=whole, mode="w|", format=tarfile.USTAR_FORMAT) as tar,
        ):
            tar.addfile(_head(MANIFEST, len(manifest)), io.BytesIO(manifest))
            for name, path in sorted(files.items()):
                with path.open("rb") as file:
                    told.file = file
                    tar.addfile(_head(name, path.stat().st_size), cast("BinaryIO", told))
        raw.flush()
        os.fsync(raw.fileno())


def _head(name: str, size: int) -> tarfile.TarInfo:
    head = tarfile.TarInfo(name)
    head.size, head.mode = size, 0o600
    return head


@contextmanager
def _opened(file: Path, identity: Identity | None) -> Iterator[BinaryIO]:
    """The archive's bytes, unsealed where it is sealed."""
    with file.open("rb") as raw:
        if not is_sealed(file):
            yield raw
        elif identity is None:
            raise BackupError(f"{file.name} is sealed: name the key that opens it.")
        else:
            with Opener(raw, identity) as opener, io.BufferedReader(opener) as whole:
                yield whole


def unpack(
    file: Path, folder: Path, identity: Identity | None = None, tell: Tell = silent
) -> Manifest:
    """Check every byte of a backup and write its members into an empty folder.

    BackupError when anything is not as it was written; what is in the folder is then of no use.
    """
    try:
        with _opened(file, identity) as raw, gzip.open(raw) as opened:
            whole = cast("BinaryIO", opened)
            manifest = manifest_from(_read_manifest(whole))
            if (
                sum(one.size for one in manifest.members.values())
                > shutil.disk_usage(folder).free
            ):
                raise BackupError("There is not enough room to unpack this backup.")
            for _ in manifest.members:
                _take(whole, manifest, folder, tell)
            if any(any(chunk) for chunk in iter(lambda: whole.read(CHUNK), b"")):
                raise BackupError("This backup holds more than its manifest lists.")
    except DAMAGED as fault:
        raise BackupError(f"{file.name} is damaged or cut short.") from fault
    return manifest


def _read_manifest(whole: BinaryIO) -> bytes:
    name, size = _next(whole)
    if name != MANIFEST or size > LARGEST_MANIFEST:
        raise BackupError("This is not a backup of Windtee.")
    return b"".join(_content(whole, size))


def _next(whole: BinaryIO) -> tuple[str, int]:
    """Name and size of the next regular file."""
    head = tarfile.TarInfo.frombuf(_exactly(whole, BLOCK), "utf-8", "strict")
    if head.type != tarfile.REGTYPE or head.linkname:
        raise BackupError("This backup holds something that is not a plain file.")
    return head.name, head.size


def _exactly(whole: BinaryIO, size: int) -> bytes:
    found = whole.read(size)
    if len(found) != size:
        raise EOFError
    return found


def _content(whole: BinaryIO, size: int) -> list[bytes]:
    """The bytes of a small file."""
    found = _exactly(whole, size)
    _exactly(whole, -size % BLOCK)
    return [found]


def _take(whole: BinaryIO, manifest: Manifest, folder: Path, tell: Tell) -> None:
    """Write the next member, once, if it is what the manifest says."""
    name, size = _next(whole)
    listed = manifest.members.get(name)
    path = folder / name
    if listed is None or listed.size != size or path.exists():
        raise BackupError(f"This backup holds {name!r}, which its manifest does not list so.")
    path.parent.mkdir(exist_ok=True, mode=0o700)
    digest = hashlib.sha256()
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        for at in range(0, size, CHUNK):
            chunk = _exactly(whole, min(CHUNK, size - at))
            digest.update(chunk)
            file.write(chunk)
            tell("unpack", (at + len(chunk)) // MB, size // MB)
    _exactly(whole, -size % BLOCK)
    if digest.hexdigest() != listed.sha256:
        raise BackupError(f"{name} in this backup is not what was backed up.")
