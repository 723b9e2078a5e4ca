"""Who reads a student's records by office, not by assignment, leaves a trace: once a day."""

import logging
from dataclasses import dataclass, field
from datetime import date

from flask import Flask, current_app, g, request

from gradebook.records.faults import BusyError, FullError
from gradebook.records.permissions import Role
from gradebook.views import desk

BY_OFFICE = frozenset({Role.CHIEF, Role.AUDITOR})
LOOKED = "windtee looked"

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Looked:
    """What this process has noted already on the day it last noted anything."""

    day: date = date.min
    pairs: set[tuple[str, str]] = field(default_factory=set)

    def on(self, day: date) -> set[tuple[str, str]]:
        """Who looked at what on that day; the day before is forgotten."""
        if day != self.day:
            self.day, self.pairs = day, set()
        return self.pairs


def trace() -> None:
    """Note a look at one student's records before it is granted.

    Reading goes on when the trail cannot be written: whoever runs a full server has to see it.
    """
    what, who = desk.about_one(), desk.actor()
    if request.method != "GET" or what is None or not who.roles & BY_OFFICE:
        return
    looked: Looked = current_app.extensions[LOOKED]
    today = looked.on(desk.now().date())
    if (who.person_id, what) in today:
        return
    try:
        with desk.acting() as act:
            act.note(g.action, what, looked=True)
        today.add((who.person_id, what))
    except (BusyError, FullError) as fault:
        log.warning("a look at records was not noted: %s", type(fault).__name__)


def install(app: Flask) -> None:
    """Put the trace behind the door, before every page."""
    app.extensions[LOOKED] = Looked()
    app.before_request(trace)
