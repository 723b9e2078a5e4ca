"""Proving who one is at a signature: the secret each time, every factor at the first."""

from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.commands import entering, factors
from gradebook.records.commands.factors import Shown
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.commands.passkeys import Site
from gradebook.records.commands.throttling import Guess
from gradebook.records.faults import InvalidError, Problem, SlowDownError
from gradebook.records.permissions import Action
from gradebook.records.store import accounts, people
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.people import LoginSession
from gradebook.settings import HashCost
from syllabus.saying import say

WINDOW = timedelta(minutes=10)
PACE = timedelta(minutes=5)
ALONE, WITH_FACTOR = "secret", "secret+code"
"""How sure a signature's author is: by the secret, or by a second factor in the window too."""


def guess_of(person_id: str, asker_id: str) -> Guess:
    """The bucket of one signed-in person guessing at the secret of another, or at their own.

    It is the asker's own, so that nobody can lock another out of signing.
    """
    return Guess(f"proof {person_id}", "", asker_id)


def check_own(session: Session, person_id: str, typed: str, cost: HashCost) -> None:
    """Return when the secret typed is this person's; else InvalidError at `secret`."""
    person = people.person(session, person_id)
    if not secrets.matches(person.secret_hash, typed, cost) or not person.active:
        raise InvalidError(Problem("secret", say("This is not the secret of this account.")))


def open_own(session: Session, person_id: str, typed: str, cost: HashCost) -> Unlocked | None:
    """The person's signing key, opened by the secret typed; None for one who has no key.

    What opens the key is the secret: the hash, as dear again, is asked only where no key opens.
    InvalidError at `secret` when it is not theirs.
    """
    opened = entering.opened_key(session, person_id, typed)
    if opened is None or not people.person(session, person_id).active:
        check_own(session, person_id, typed, cost)
    return opened


def sureness(act: Act, session_id: str, person_id: str) -> str | None:
    """How sure it is, the secret checked, that this person signs; None: show a factor first.

    It has to be shown by whoever has one, unless it was shown for signing, in this session of
    their own, within the last ten minutes.
    """
    if not accounts.has_factor(act.session, person_id):
        return ALONE
    row = act.session.get(LoginSession, session_id)
    shown = row is not None and was_shown(row, person_id, act.at)
    return WITH_FACTOR if shown else None


def was_shown(row: LoginSession, person_id: str, at: datetime) -> bool:
    """Whether this session is the person's and showed every factor for signing just now."""
    within = row.signed_at is not None and at - row.signed_at <= WINDOW
    return within and row.person_id == person_id


def show(act: Act, session_id: str, person_id: str, shown: Shown, site: Site) -> str:
    """How sure it is now that the second factor is shown; InvalidError at `code`."""
    if not shown.code and not shown.passkey:
        words = say(
            "Show your second factor too: the first signature in ten minutes needs both."
        )
        raise InvalidError(Problem("code", words))
    factors.show(act, session_id, person_id, shown, site)
    row = act.session.get(LoginSession, session_id)
    if row is not None and row.person_id == person_id:
        row.signed_at = act.at
    return WITH_FACTOR


def check_pace(act: Act, most: int) -> None:
    """Return while the actor may sign one more record; SlowDownError after `most` in 5 min."""
    query = select(func.count()).where(
        AuditEvent.at > act.at - PACE,
        AuditEvent.actor_id == act.actor.person_id,
        AuditEvent.action == Action.RECORD_SIGN.value,
    )
    if (act.session.scalar(query) or 0) >= most:
        raise SlowDownError(
            say(
                "{most} records in five minutes are enough: read each before you sign "
                "it. The card is kept; sign it in a few minutes.",
                most=most,
            ),
            seconds=30,
        )
