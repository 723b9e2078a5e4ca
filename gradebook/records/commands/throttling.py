"""Slowing down whoever guesses, without letting them lock anybody else out.

Failures are counted in buckets. A browser from which this person has signed in before has a
bucket of its own, which no outsider can fill; every other is counted by account and address,
and all of them together by account.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from gradebook.ledger.canonical import sha256_hex
from gradebook.records.faults import SlowDownError
from gradebook.records.tables.people import LoginAttempt
from syllabus.saying import say

FREE = 5
"""Failures without a wait; each further one doubles the wait."""
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(minutes=15)
MOST_IN_A_ROW = 100
"""Failures of one account from browsers not known, before only known ones are let in."""
KEPT, MINUTE = timedelta(days=30), timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Guess:
    """One attempt to show who one is: the account, from where, and by which known browser.

    `account` names what is guessed (`secret ana@school.example`); `device` is empty when the
    browser is not known.
    """

    account: str
    address: str
    device: str = ""

    @property
    def bucket(self) -> str:
        """Where failures of this browser, or of this address, are counted."""
        where = f"device {self.device}" if self.device else f"address {self.address}"
        return digest(f"{self.account} {where}")

    @property
    def everywhere(self) -> str:
        """Where failures of browsers not known are counted together."""
        return digest(self.account)


def secret_of(email: str) -> str:
    """What is guessed at sign-in: the secret of whoever has this address."""
    return f"secret {email.strip().lower()}"


def code_of(person_id: str) -> str:
    """What is guessed after it: the second factor of a person."""
    return f"code {person_id}"


def digest(text: str) -> str:
    """SHA-256, hexadecimal: what the database keeps of cookies, links and addresses."""
    return sha256_hex(text.encode())


def begin(session: Session, guess: Guess, at: datetime) -> None:
    """Count an attempt as failed until `succeed` says otherwise; SlowDownError: not yet.

    Counting first means that a hundred attempts at once are still a hundred. The last one may
    carry a later moment: of two at once, or after the clock was set back.
    """
    number, last = _failures(session, guess.bucket)
    left = _wait(number) - abs(at - last) if last else timedelta(0)
    if left > timedelta(0):
        minutes = ceil(left.total_seconds() / 60)
        raise SlowDownError(
            say(
                "Too many failed attempts. Wait {minutes} min, then try again.", minutes=minutes
            )
        )
    if not guess.device:
        if _failures(session, guess.everywhere)[0] >= MOST_IN_A_ROW:
            raise SlowDownError(
                say(
                    "Too many failed attempts. Use a browser you have signed in with before, "
                    "or ask an administrator for a link to a new secret."
                )
            )
        session.add(LoginAttempt(subject=guess.everywhere, failed_at=at))
    session.add(LoginAttempt(subject=guess.bucket, failed_at=at))


def take_turn(session: Session, subject: str, at: datetime, most: int) -> None:
    """Count one request of so many a minute; SlowDownError, and not counted, when it is over.

    `subject` says who asks, and for what. Moments that lie ahead, since the clock was set back,
    are forgotten.
    """
    name, since = digest(subject), at - MINUTE
    rows = delete(LoginAttempt).where(
        LoginAttempt.subject == name,
        ~LoginAttempt.failed_at.between(since, at + MINUTE),
    )
    session.execute(rows)
    query = select(func.count(), func.min(LoginAttempt.failed_at)).where(
        LoginAttempt.subject == name
    )
    number, first = session.execute(query).one()
    if number >= most:
        left = ceil((first - since).total_seconds())
        raise SlowDownError(
            say("Too many requests in a minute. What is not sent yet is kept."), max(1, left)
        )
    session.add(LoginAttempt(subject=name, failed_at=at))


def succeed(session: Session, guess: Guess) -> None:
    """Forget the failures of this browser or address, and those of unknown browsers."""
    forget(session, guess.bucket, guess.everywhere)


def forget(session: Session, *subjects: str) -> None:
    """Forget all failures counted in these buckets."""
    session.execute(delete(LoginAttempt).where(LoginAttempt.subject.in_(subjects)))


def forget_account(session: Session, person_id: str, email: str) -> None:
    """Forget the failures of an account from browsers not known: it has a new secret."""
    forget(session, digest(secret_of(email)), digest(code_of(person_id)))


def forget_old(session: Session, at: datetime) -> None:
    """Forget failures that are too old to count."""
    session.execute(delete(LoginAttempt).where(LoginAttempt.failed_at < at - KEPT))


def _failures(session: Session, subject: str) -> tuple[int, datetime | None]:
    query = select(func.count(), func.max(LoginAttempt.failed_at)).where(
        LoginAttempt.subject == subject
    )
    number, last = session.execute(query).one()
    return number, last


def _wait(failures: int) -> timedelta:
    """How long after the last of so many failures the next attempt is heard."""
    if failures < FREE:
        return timedelta(0)
    doubled: int = 2 ** min(failures - FREE, 10)
    return min(FIRST_WAIT * doubled, LONGEST_WAIT)
