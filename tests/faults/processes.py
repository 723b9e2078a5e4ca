"""The server's process group from outside: started, killed, stopped in the middle."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from random import Random
from select import select

from tests.postgres import Cluster, start
from tests.run import ROOT

BACKLOG = 2048
"""As many as gunicorn lets wait by itself."""
STARTS = 20
KINDS = ("worker", "workers", "master", "group")


def children(pid: int) -> list[int]:
    """The processes that a process has started and that still run."""
    try:
        words = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except FileNotFoundError:
        return []
    return [int(word) for word in words]


def kill(*pids: int) -> None:
    """Kill these processes at once (SIGKILL); those already gone are passed over."""
    for pid in pids:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def kill_database(cluster: Cluster) -> None:
    """Kill every process of a PostgreSQL at once, and wait until the last one is gone."""
    master = int((cluster.folder / "data" / "postmaster.pid").read_text().split()[0])
    pids = [master, *children(master)]
    gone = [os.pidfd_open(pid) for pid in pids]
    kill(*pids)
    for descriptor in gone:
        select([descriptor], [], [])
        os.close(descriptor)


def start_database(cluster: Cluster) -> None:
    """Start it again: refused while its shared memory still looks used, so tried again."""
    for _ in range(STARTS):
        if not (done := start(cluster)).returncode:
            return
    raise AssertionError(f"{done.stderr}\n{(cluster.folder / 'log').read_text()}")


class Group:
    """The server of one school: a listening socket, a starter, and the group it started."""

    def __init__(self, starter: subprocess.Popen[str], address: tuple[str, int]) -> None:
        self.starter, self.address = starter, address
        self.master = 0

    def start(self) -> None:
        """A new master, which starts its workers."""
        assert self.starter.stdin is not None
        assert self.starter.stdout is not None
        self.starter.stdin.write("start\n")
        self.starter.stdin.flush()
        self.master = int(self.starter.stdout.readline())

    def strike(self, kind: str, random: Random) -> None:
        """Kill one worker, all of them, the master, or the group; start what will not return.

        A master replaces its workers by itself.
        """
        workers = children(self.master)
        if kind == "worker":
            kill(*random.sample(workers, min(1, len(workers))))
        elif kind == "workers":
            kill(*workers)
        else:
            kill(self.master, *(workers if kind == "group" else ()))
            self.start()

    def signal(self, number: int) -> None:
        """Send a signal to the master and every worker."""
        for pid in (self.master, *children(self.master)):
            os.kill(pid, number)

    def end(self) -> None:
        """Kill the group and let the starter go."""
        kill(self.master, *children(self.master))
        self.starter.communicate()


@contextmanager
def running_group(data: Path, url: str, mistake: str = "") -> Iterator[Group]:
    """A server of the school at `url`, killed when the block ends."""
    with socket.create_server(("127.0.0.1", 0), backlog=BACKLOG) as listening:
        words = [str(data), url, str(listening.fileno()), mistake]
        with (data / "server.log").open("a") as log:
            starter = subprocess.Popen(
                [sys.executable, "-m", "tests.faults.server", *words],
                cwd=ROOT,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                pass_fds=[listening.fileno()],
            )
        group = Group(starter, listening.getsockname())
        try:
            group.start()
            yield group
        finally:
            group.end()
