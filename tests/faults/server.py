"""A server for drills: the real process group of `windtee serve`, with the throttles open.

`python -m tests.faults.server DATA URL SOCKET [MISTAKE]`. The socket is open already, and stays
so, so that whoever connects while no server is there waits instead of being refused. For each
line on standard input one process group is forked; its master's number is printed.
"""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from flask import Flask
from sqlalchemy.orm import Session

from gradebook.app import create_app
from gradebook.cli.serving import Server
from gradebook.records.database import Database
from gradebook.settings import FLOOR, Settings
from gradebook.views.desk import Office
from tests.cast import SEED
from tests.faults.drillschool import ticking

SUBREAPER = 36  # PR_SET_CHILD_SUBREAPER of Linux: the workers of a killed master come to us


def settings_of(data: Path, url: str) -> Settings:
    """What `windtee serve` would use, but for second factors and throttles."""
    return Settings(
        data=data,
        database=url,
        key="a key for the tests",
        seed=SEED,
        second_factor=False,
        signatures=10**9,
        requests=10**9,
        hash_cost=FLOOR,
        now=ticking,
    )


class LateDatabase(Database):
    """A planted mistake: the answer leaves first, the commit comes with the next write."""

    late: Session | None = None

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that is committed when the next one begins."""
        if self.late is not None:
            self.late.commit()
            self.late.close()
        self.late = Session(self.engine, expire_on_commit=False)
        yield self.late
        self.late.flush()


class LateServer(Server):
    """One worker that acknowledges before it commits."""

    def load_config(self) -> None:
        """As the real one, but alone."""
        super().load_config()
        self.cfg.set("workers", 1)

    def load(self) -> Flask:
        """The application over the mistaken database."""
        app = super().load()
        office: Office = app.extensions["windtee"]
        app.extensions["windtee"] = Office(
            office.settings, LateDatabase(office.database.engine)
        )
        return app


class SharingServer(Server):
    """A planted mistake: the connection is opened before the workers are forked."""

    def __init__(self, settings: Settings, address: str) -> None:
        self.app = create_app(settings)
        office: Office = self.app.extensions["windtee"]
        with office.database.read() as session:
            session.connection()
        super().__init__(settings, address)

    def load(self) -> Flask:
        """The same application, with the same open connection, in every worker."""
        return self.app


class HurriedServer(Server):
    """No mistake, but little patience: what waited two seconds is sent away."""

    def __init__(self, settings: Settings, address: str) -> None:
        super().__init__(replace(settings, wait_seconds=2.0), address)


MISTAKES = {"": Server, "late": LateServer, "sharing": SharingServer, "hurried": HurriedServer}


def main(data: str, url: str, socket: str, mistake: str = "") -> None:
    """Start a process group whenever a line comes, until the input ends."""
    ctypes.CDLL(None).prctl(SUBREAPER, 1, 0, 0, 0)
    for _ in sys.stdin:
        with suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:
                pass
        master = os.fork()
        if master == 0:
            os.setsid()
            sys.argv = sys.argv[:1]
            MISTAKES[mistake](settings_of(Path(data), url), f"fd://{socket}").run()
        sys.stdout.write(f"{master}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
