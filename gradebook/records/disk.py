"""Whether a SQLite file lies where its locks hold: not on a network share."""

from pathlib import Path

MOUNTS = Path("/proc/mounts")
SHARED = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ceph", "9p", "fuse.sshfs"})


def share_of(file: Path, mounts: str) -> str:
    """The type of the network share that holds a file, by the text of /proc/mounts."""
    best, kind = 0, ""
    for line in mounts.splitlines():
        parts = line.split(" ")
        if len(parts) < 3:
            continue
        place = parts[1].encode().decode("unicode_escape")
        if file.is_relative_to(place) and len(place) >= best:
            best, kind = len(place), parts[2]
    return kind if kind in SHARED else ""


def share_here(file: Path) -> str:
    """The same on this machine; empty when there is none, or it cannot be known."""
    return share_of(file.resolve(), MOUNTS.read_text() if MOUNTS.exists() else "")
