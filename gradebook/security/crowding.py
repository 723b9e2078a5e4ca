"""Sending people away while more are waiting than can be served soon.

Who connects waits in the queue of the listening socket, unseen by a server that is busy. Left
alone it would grow until everybody waits for minutes; so whoever is let in while many still
wait behind is told at once when to come again, which costs next to nothing.
"""

import socket
import struct
from collections.abc import Iterable

from gradebook.records.faults import BusyError
from syllabus.saying import say

LONGEST = 64
"""How many may wait behind a request that is still answered: some two seconds of signatures."""
WAITING = struct.Struct("=24xI")
"""Of a listening socket's TCP_INFO (tcp(7) of Linux): connections not yet taken on."""

_doors: list[socket.socket] = []


def watch(doors: Iterable[socket.socket]) -> None:
    """From now on count who waits at these listening sockets."""
    _doors[:] = doors


def waiting() -> int:
    """How many connections wait to be taken on; 0 where the system does not say."""
    return sum(map(_behind, _doors))


def _behind(door: socket.socket) -> int:
    try:
        told = door.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, WAITING.size)
    except (AttributeError, OSError):
        return 0
    found: int = WAITING.unpack(told)[0]
    return found


def shed() -> None:
    """BusyError while too many wait."""
    if _doors and waiting() > LONGEST:
        raise BusyError(
            say("Too many people at once: nothing of this was stored. Send it again soon.")
        )
