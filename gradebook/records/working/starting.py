"""Starting a process for one job, which outlives the request that asked for it.

It is a process of its own, not a thread and not a fork: it has its own connections, no lock of
the server's is copied into it, and a worker that is ended or replaced does not take it along.
It belongs to the server's process group, so that stopping the whole group stops it too.
"""

import os
import subprocess
import sys
import threading

from gradebook.paths import PACKAGE
from gradebook.settings import Settings


def start(settings: Settings, job_id: str, lock: int) -> None:
    """Start a process for a job; it inherits `lock`, the descriptor that holds the job's lock.

    OSError when no process can be started.
    """
    found = [str(PACKAGE.parent), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**os.environ, "WINDTEE_DATABASE": settings.database}
    environment |= {"PYTHONPATH": os.pathsep.join(found), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-P", "-m", "gradebook.worker", str(settings.data), job_id]
    child = subprocess.Popen(  # noqa: S603 - our own module, and no shell
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, env=environment,
        pass_fds=[lock],
    )  # fmt: skip
    threading.Thread(target=child.wait, daemon=True).start()
