"""The process that does one piece of long work: `python -m gradebook.worker DATA JOB`."""

import logging
import os
import sys
from contextlib import suppress
from pathlib import Path

from gradebook.records.database import Database, open_engine
from gradebook.records.working.doing import do
from gradebook.security.log import JsonLines
from gradebook.settings import settings_in

KINDNESS = 5
"""How much the process gives way to those that answer pages (see nice(1))."""


def main(data: str, job_id: str) -> None:
    """Do the job, whose lock this process inherited; complaints go where the server's go."""
    with suppress(OSError):  # where the service may not: then it gives way to nobody
        os.nice(KINDNESS)
    handler = logging.StreamHandler()
    handler.setFormatter(JsonLines())
    logger = logging.getLogger("gradebook.worker")
    logger.addHandler(handler)
    logger.propagate = False
    settings = settings_in(Path(data))
    engine = open_engine(settings.database)

    def log(fault: Exception) -> None:
        logger.error("failed", exc_info=fault, extra={"facts": {"job": job_id}})

    try:
        do(settings, Database(engine), job_id, log)
    except Exception as fault:  # noqa: BLE001 - it could not even say how it ended
        log(fault)
    finally:
        engine.dispose()


if __name__ == "__main__":
    main(*sys.argv[1:3])
