"""A disk that honours nothing but a flush still holds every acknowledged signature."""

from pathlib import Path
from random import Random

from tests.faults.disk import Call, Disk, calls
from tests.faults.powercut import cutting


def test_no_power_cut_loses_an_acknowledged_signature(tmp_path: Path) -> None:
    found = cutting(tmp_path, states=240)
    assert found.clean, found
    assert found.states >= 240
    assert found.acknowledged >= 50


def test_a_database_that_does_not_wait_for_the_disk_is_found_out(tmp_path: Path) -> None:
    found = cutting(tmp_path, states=40, synchronous="NORMAL")
    assert found.losing >= 20, found
    assert not found.clean


def test_a_write_counts_from_its_flush_on() -> None:
    disk = Disk()
    disk.take(Call("pwrite64", "f", b"ab", 1))
    assert disk.without() == {}
    disk.take(Call("fdatasync", "f"))
    disk.take(Call("pwrite64", "f", b"c", 0))
    assert disk.without() == {"f": b"\0ab"}
    disk.take(Call("unlink", "f"))
    assert disk.without() == {}


def test_a_torn_write_keeps_whole_sectors_of_the_disk() -> None:
    disk = Disk({"f": bytearray(2048)})
    disk.take(Call("pwrite64", "f", b"x" * 1536, 256))
    seen = {disk.torn(Random(seed))["f"] for seed in range(50)}  # noqa: S311
    assert len(seen) > 4
    for held in seen:
        parts = [held[:256], held[256:512], held[512:1024], held[1024:1536], held[1536:1792]]
        assert all(len(set(part)) == 1 for part in parts)
        assert (held[:256], held[1792:]) == (bytes(256), bytes(256))


def test_a_trace_is_read_as_strace_writes_it() -> None:
    lines = [
        r'pwrite64(4<\x2f\x61>, "\x68\x69", 2, 32) = 2',
        r"fsync(4<\x2f\x61>) = 0",
        r"fsync(4<\x2f\x61>) = -1 EIO (Input/output error)",
        r'write(1<\x70\x69\x70\x65\x3a\x5b\x39\x5d>, "\x6f\x6b\x0a", 3) = 3',
        r"ftruncate(4<\x2f\x61>, 8) = 0",
        r'unlink("\x2f\x61") = 0',
        r"+++ exited with 0 +++",
    ]
    assert list(calls(lines)) == [
        Call("pwrite64", "/a", b"hi", 32),
        Call("fsync", "/a"),
        Call("write", "pipe", b"ok\n"),
        Call("ftruncate", "/a", b"", 8),
        Call("unlink", "/a"),
    ]
