"""A PostgreSQL cluster of the tests' own: a folder and a port that nobody else uses."""

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg

from tests import run

STARTS = 3
SETTINGS = "-c listen_addresses=127.0.0.1 -c fsync=off -c log_checkpoints=off"
DURABLE = SETTINGS.replace("fsync=off", "fsync=on")
"""For drills that kill it."""


@dataclass(frozen=True)
class Cluster:
    """A running cluster on 127.0.0.1, which trusts every connection."""

    port: int
    folder: Path
    settings: str = SETTINGS

    def url(self, database: str) -> str:
        """SQLAlchemy's address of one of its databases."""
        return f"postgresql+psycopg://postgres@127.0.0.1:{self.port}/{database}"

    def execute(self, statement: str) -> None:
        """Run one statement outside any transaction."""
        address = f"postgresql://postgres@127.0.0.1:{self.port}/postgres"
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement.encode())

    @contextmanager
    def fresh_database(self) -> Iterator[str]:
        """Address of an empty database, dropped afterwards."""
        name = f"windtee_{uuid4().hex}"
        self.execute(f"CREATE DATABASE {name}")
        try:
            yield self.url(name)
        finally:
            self.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _newest_programs() -> Path:
    found = Path("/").glob(run.INITDB.lstrip("/"))
    folders = sorted((path.parent for path in found), key=lambda path: int(path.parts[-2]))
    if not folders:
        raise FileNotFoundError(f"PostgreSQL is missing: {run.apt_line(['postgresql'])}")
    return folders[-1]


def _run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    """Run as the user postgres where we are root, for PostgreSQL refuses root."""
    as_user: dict[str, Any] = {}
    if os.geteuid() == 0:
        as_user = {"user": "postgres", "group": "postgres", "extra_groups": []}
    return subprocess.run(
        command,
        cwd="/",
        env={"PATH": os.defpath, "LC_ALL": "C"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        **as_user,
    )


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def start(cluster: Cluster) -> subprocess.CompletedProcess[str]:
    """Start it, or start it again after it was killed."""
    options = f"-p {cluster.port} -k {cluster.folder} {cluster.settings}"
    data, log = cluster.folder / "data", cluster.folder / "log"
    return _run(_newest_programs() / "pg_ctl", "start", "-w", "-D", data, "-l", log,
                "-o", options)  # fmt: skip


def _made(programs: Path, folder: Path, settings: str) -> Cluster:
    """A new one; tried again when somebody took the port in between."""
    done = _run(programs / "initdb", "-A", "trust", "--no-locale", "-N", "-E", "UTF8",
                "-U", "postgres", "-D", folder / "data")  # fmt: skip
    assert done.returncode == 0, done.stderr
    for _ in range(STARTS):
        cluster = Cluster(_free_port(), folder, settings)
        done = start(cluster)
        if done.returncode == 0:
            return cluster
    log = (folder / "log").read_text()
    raise AssertionError(f"PostgreSQL did not start: {done.stderr}\n{log}")


@contextmanager
def running_cluster(settings: str = SETTINGS) -> Iterator[Cluster]:
    """A cluster that lives as long as the block; FileNotFoundError without PostgreSQL."""
    programs = _newest_programs()
    folder = Path(tempfile.mkdtemp(prefix="windtee-postgres-"))
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres", "postgres")
        cluster = _made(programs, folder, settings)
        try:
            yield cluster
        finally:  # by the process number in its own folder
            done = _run(programs / "pg_ctl", "stop", "-m", "immediate", "-D", folder / "data")
            assert done.returncode == 0, done.stderr
    finally:
        shutil.rmtree(folder)
