"""Whoever waited too long for the server to begin is sent away, so that no queue grows old.

The processes of `windtee serve` take one request each at a time; the others wait in the queue
of the listening socket. When more come than can be answered it only ever gets longer, until
every answer comes too late for whoever asked. The system knows when the last byte of a request
came (TCP_INFO of Linux): one that nobody began for too long is told at once that it was not
done, which costs little, and the ones behind it are still in time.
"""

import socket
import sys
from collections.abc import Callable
from struct import unpack_from
from time import monotonic

from flask import request

from gradebook.records.faults import BusyError
from syllabus.saying import say

CHEAP = frozenset({"static", "health.alive", "phone.worker", "phone.shell", "phone.manifest"})
"""What costs no more than sending somebody away."""
LAST_RECEIVED = 52
"""Where `tcpi_last_data_recv` lies in Linux's `struct tcp_info`: milliseconds, 32 bits."""

CROWDED = say("Too many ask at once: nothing of it was done. Try again in a moment.")


def waited(connection: socket.socket) -> float:
    """Seconds since the last byte came on a connection; 0 where the system does not tell."""
    if sys.platform != "linux":
        return 0.0
    told = connection.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, LAST_RECEIVED + 4)
    milliseconds: int = unpack_from("=I", told, LAST_RECEIVED)[0]
    return milliseconds / 1000


def turn_away(patience: float) -> Callable[[], None]:
    """What is asked before a request: BusyError when it waited `patience` seconds to be begun.

    A process that has just begun serves whoever waited for it to begin.
    """
    began = monotonic()

    def check() -> None:
        connection = request.environ.get("gunicorn.socket")
        if connection is None or request.endpoint in CHEAP or monotonic() - began < patience:
            return
        if waited(connection) > patience:
            raise BusyError(CROWDED)

    return check
