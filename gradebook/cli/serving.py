"""`windtee demo` and `windtee serve`: the server."""

import argparse
import gc
import os
import socket
import sys
from pathlib import Path

from flask import Flask
from gunicorn.app.base import BaseApplication

from gradebook import demo_accounts
from gradebook.app import create_app
from gradebook.cli.console import say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data, with_place
from gradebook.demo import loading
from gradebook.ledger.notes import NoteError
from gradebook.paths import default_data
from gradebook.records import schema
from gradebook.records.checkpoints import folders
from gradebook.records.commands import checkpointing
from gradebook.records.faults import TornError
from gradebook.records.keeping import erasures
from gradebook.settings import LOOPBACK, Settings, settings_in

WORKERS = 2
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "root": {"level": "WARNING", "handlers": ["stderr"]},
    "loggers": {
        "gunicorn.error": {"level": "WARNING", "handlers": ["stderr"], "propagate": False}
    },
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "json"}},
    "formatters": {"json": {"()": "gradebook.security.log.JsonLines"}},
}
"""The server's own complaints, in the same lines as the application's."""


class Server(BaseApplication):  # type: ignore[misc] # gunicorn ships no types
    """gunicorn with our options: sync workers, each with its own database connections."""

    def __init__(self, settings: Settings, address: str) -> None:
        self.settings, self.address = settings, address
        super().__init__()

    def load_config(self) -> None:
        """Tell gunicorn where to listen and how."""
        for name, value in {
            "bind": self.address,
            "workers": WORKERS,
            "accesslog": None,
            "errorlog": "-",
            "loglevel": "warning",
            "logconfig_dict": LOGGING,
            "forwarded_allow_ips": "",  # only WINDTEE_PROXIES says whose words are believed
            "secure_scheme_headers": {},
            "worker_tmp_dir": "/dev/shm" if Path("/dev/shm").is_dir() else None,  # noqa: S108
        }.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """The application, made in each worker.

        What is there by then stays until the worker ends: the collector of garbage, which took
        a quarter of a second each time a page made many objects, need not look at it again.
        """
        app = create_app(self.settings)
        gc.collect()
        gc.freeze()
        return app


def serve_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    with_place(command).set_defaults(run=serve)


def demo_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    with_place(command).set_defaults(run=demo, data=default_data() / "demo")
    command.add_argument("--fresh", action="store_true", help="load the demo school anew")


def serve(chosen: argparse.Namespace) -> int:
    """Serve a school that has been set up."""
    settings = settings_in(chosen.data, bind=chosen.host)
    with opened(settings) as database:
        try:
            schema.check(database.engine)
            places = folders(settings.data, settings.outside)
            with database.read() as session:
                found = checkpointing.ready(session, settings.seed, places)
                erasures.check(session, places)
        except (schema.SchemaError, TornError, NoteError) as refusal:
            warn(str(refusal))
            return 1
    if found is None:
        warn("There is no school here yet: run windtee setup first (windtee setup --help).")
        return 1
    return _listen(settings, chosen, [f"{found.name} is open at {address(chosen)}"])


def demo(chosen: argparse.Namespace) -> int:
    """Load the demo school where it is not there yet, and serve it."""
    settings = settings_in(chosen.data, demo=True, bind=chosen.host)
    if chosen.fresh:
        loading.clear(settings.data)
    say("Loading the demo school (the first time takes a moment) ...")
    loading.load(settings)
    secret = f"Demo accounts (secret for all: {demo_accounts.SECRET})"
    lines = [f"Windtee demo: {address(chosen)}", "", secret]
    lines += [f"  {role:<18} {email}" for role, email in demo_accounts.DOORS]
    lines += [
        "",
        "Stop with Ctrl-C. Invented school, invented aircraft. Not for use in flight.",
    ]
    return _listen(settings, chosen, lines)


def address(chosen: argparse.Namespace) -> str:
    """Where a browser goes: to this machine by name, for no passkey is made at numbers."""
    place = f"localhost:{chosen.port}" if chosen.host in LOOPBACK else _bound(chosen)
    return f"http://{place}/"


def _bound(chosen: argparse.Namespace) -> str:
    """Address and port as they are written together: an IPv6 address in brackets."""
    host = f"[{chosen.host}]" if ":" in chosen.host else chosen.host
    return f"{host}:{chosen.port}"


def _listen(settings: Settings, chosen: argparse.Namespace, lines: list[str]) -> int:
    family = socket.AF_INET6 if ":" in chosen.host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((chosen.host, chosen.port))
        except OSError:
            warn(f"{_bound(chosen)} is in use or not here: change --port or --host.")
            return 1
    say(*lines)
    os.environ.setdefault("PYTHONUNBUFFERED", "1")
    sys.argv = sys.argv[:1]
    Server(settings, _bound(chosen)).run()
    return 0
