"""Work that begins by itself, so many times a second, however the work before it fares."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

AT_ONCE = 3000
"""Requests on their way at the same time, at most."""
T = TypeVar("T")


def come(act: Callable[[float], T], rate: float, seconds: float) -> list[T]:
    """What came of each act, which is told when it was due (`time.monotonic`)."""
    began = time.monotonic()
    with ThreadPoolExecutor(AT_ONCE) as pool:
        coming = []
        for number in range(round(rate * seconds)):
            due = began + number / rate
            threading.Event().wait(max(0.0, due - time.monotonic()))
            coming.append(pool.submit(act, due))
        return [one.result() for one in coming]
