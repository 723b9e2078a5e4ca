"""What a view works with: the school's database and the act of whoever is asking."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import urlsplit

from flask import current_app, g, request
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from gradebook import formats
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.succession import Succession
from gradebook.records import checkpoints
from gradebook.records.act import Act
from gradebook.records.commands import (
    checkpointing,
    keyring,
    proving,
    sessions,
    throttling,
)
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.commands.factors import Shown
from gradebook.records.commands.passkeys import Site
from gradebook.records.commands.sessions import Browser
from gradebook.records.database import Database
from gradebook.records.faults import BusyError, DiskError, FullError
from gradebook.records.pen import Pen, Signer, house_of, vkey_of
from gradebook.records.permissions import Actor
from gradebook.records.store import accounts, schoolkeys
from gradebook.records.store.people import School
from gradebook.settings import Settings, seed_in
from gradebook.views import cookies

NOBODY = Actor("", "", frozenset())
NOTHING = Shown()
ABOUT_ONE = ("record_id", "enrolment_id")
"""The parts of an address that name one student's records."""


@dataclass(frozen=True, slots=True)
class Office:
    """One running installation: its settings and its database."""

    settings: Settings
    database: Database

    @property
    def checkpoints(self) -> tuple[Path, ...]:
        """The folders that checkpoints are written to."""
        return checkpoints.folders(self.settings.data, self.settings.outside)


def office() -> Office:
    """The installation that serves this request."""
    found: Office = current_app.extensions["windtee"]
    return found


def now() -> datetime:
    """The moment of this request, the same throughout."""
    if "now" not in g:
        g.now = office().settings.now()
    moment: datetime = g.now
    return moment


def actor() -> Actor:
    """Who is asking; nobody on public pages."""
    found: Actor = g.get("actor", NOBODY)
    return found


def school() -> School | None:
    """The school, or None before it has been set up."""
    found: School | None = g.get("school")
    return found


def zone() -> str:
    """The school's zone (IANA name)."""
    found: str = g.get("zone", "UTC")
    return found


def hours_style() -> str:
    """How hours are written: as the reader chose, else as the school does."""
    person, row = g.get("person"), school()
    own: str = person.hours_style if person is not None else ""
    return own or (row.hours_style if row is not None else "decimal")


def house() -> Signer:
    """The school's own signer; a key changed since this server began is taken up."""
    here, row = office(), school()
    found = house_of(here.settings.seed)
    if row is None or not row.vkey or row.vkey == vkey_of(here.settings.seed, row.origin):
        return found
    return house_of(seed_in(here.settings.data))


def about_one() -> str | None:
    """Which record or enrolment the address names, if any; as much as the trail can hold."""
    args = request.view_args or {}
    return next((str(args[name])[:64] for name in ABOUT_ONE if name in args), None)


@contextmanager
def reading() -> Iterator[Act]:
    """An act that only reads."""
    with office().database.read() as session:
        yield Act(session, actor(), now(), zone())


@contextmanager
def acting(pen: Pen | None = None) -> Iterator[Act]:
    """An act that writes: committed when the block ends, before the answer leaves.

    It signs with `pen`, or else with the key that the session holds open. A checkpoint that
    has become due is issued in the same transaction and leaves the building after it.
    """
    with office().database.write() as session:
        yield Act(session, actor(), now(), zone(), pen or held_pen(), device())
        _forgive(session)
        row = _checkpoint(session)
    g.pop("proved", None)
    if row is not None:
        let_out(row)


def _checkpoint(session: Session) -> LedgerCheckpoint | None:
    if not checkpointing.is_due(session, now()):
        return None
    return checkpointing.issue(session, house(), now(), newest_outside())


def newest_outside() -> Checkpoint | None:
    """The checkpoint over most entries among those that left the building.

    TornError when a file there is not a checkpoint of this school.
    """
    with checkpoints.ours():
        return checkpoints.newest(office().checkpoints, _line()) if school() else None


def let_out(row: LedgerCheckpoint) -> None:
    """Let a checkpoint leave the building; after the transaction that issued it."""
    checkpoints.keep(row.note, row.size, office().checkpoints)


def outside() -> list[Checkpoint]:
    """All checkpoints kept outside the database; TornError when one is not this school's."""
    with checkpoints.ours():
        return list(checkpoints.kept(office().checkpoints, _line())) if school() else []


def _line() -> Succession:
    """The school's keys, one after another."""
    with office().database.read() as session:
        return schoolkeys.succession(session)


def held_pen() -> Pen:
    """The school's key, and the asker's own as their session holds it."""
    login, cookie = g.get("login"), g.get("cookie", "")
    opened = keyring.held(login, cookie) if login is not None else None
    own = None if opened is None else Signer(opened.kid, opened.seed, "session")
    return Pen(house(), own)


def login_id() -> str:
    """The session of this request; empty on public pages."""
    login = g.get("login")
    return login.id if login is not None else ""


def browser() -> Browser:
    """Where this request comes from."""
    words = formats.device(request.headers.get("User-Agent", ""))
    return Browser(request.remote_addr or "", words, device())


def device() -> str:
    """The cookie by which the browser of this request is known; empty where it has none."""
    return request.cookies.get(cookies.device(), "")


def site() -> Site:
    """What second factors are bound to: this installation at the address asked for."""
    named = school()
    host = urlsplit(request.host_url).hostname or ""
    scheme = "https" if office().settings.secure_cookies else request.scheme
    origin = f"{scheme}://{request.host}"
    return Site(office().settings.key, named.name if named else "Windtee", host, origin)


def wants_factor(person_id: str) -> frozenset[str]:
    """The kinds of factor of which the next signature of this person needs one shown."""
    login = g.get("login")
    if login is not None and proving.was_shown(login, person_id, now()):
        return frozenset()
    with reading() as act:
        return frozenset(row.kind for row in accounts.factors_of(act.session, person_id))


def second_at() -> datetime | None:
    """When the session of this request showed a second factor."""
    login = g.get("login")
    return login.second_at if login is not None else None


def is_fresh() -> bool:
    """Whether the asker proved who they are in the last minutes, with all factors they have."""
    with reading() as act:
        has_one = accounts.has_factor(act.session, act.actor.person_id)
    proved: datetime | None = g.login.second_at if has_one else g.login.created_at
    return proved is not None and now() - proved <= sessions.FRESH


def check_secret(typed: str) -> None:
    """Return when this is the asker's secret; else InvalidError or SlowDownError, counted."""
    here, mine = office(), actor().person_id
    guess = proving.guess_of(mine, mine)
    with here.database.write() as session:
        throttling.begin(session, guess, now())
    with here.database.read() as session:
        proving.check_own(session, mine, typed, here.settings.hash_cost)
    with here.database.write() as session:
        throttling.succeed(session, guess)


def prove(person_id: str, typed: str, shown: Shown = NOTHING) -> Pen:
    """A pen for somebody who has just typed their secret, and shown a factor where needed.

    A wrong secret or factor is counted, then InvalidError at `secret` or `code`;
    SlowDownError after too many.
    """
    here = office()
    guess = proving.guess_of(person_id, actor().person_id)
    with here.database.write() as session:
        throttling.begin(session, guess, now())
    with reading() as act:
        opened = proving.open_own(act.session, person_id, typed, here.settings.hash_cost)
        sure = proving.sureness(act, login_id(), person_id)
    if sure is None:
        with acting() as act:
            sure = proving.show(act, login_id(), person_id, shown, site())
            throttling.succeed(act.session, guess)
    else:
        g.proved = guess  # taken back by the act that follows, or else by `settle`
    own = None if opened is None else Signer(opened.kid, opened.seed, sure)
    return Pen(house(), own)


def settle(answer: Response) -> Response:
    """Take back the attempt of whoever proved who they are, where no act has done so.

    Where the database cannot take that now, it stays counted as a failure.
    """
    if "proved" in g:
        with suppress(BusyError, DiskError, FullError), office().database.write() as session:
            _forgive(session)
    return answer


def _forgive(session: Session) -> None:
    """In the transaction of an act: who proved who they are has failed at nothing."""
    if "proved" in g:
        throttling.succeed(session, g.proved)
