"""One act: a session, who acts, and when. What it states and notes shares its transaction."""

import secrets
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.ledger import keys, notes
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.statements import Statement
from gradebook.records.faults import BusyError
from gradebook.records.mirrors import body_of
from gradebook.records.pen import Pen
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import auditing, ledger, people
from gradebook.records.store.ledger import SERVER, Placed
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class Act:
    """What every command gets: the open transaction, the actor, the moment, the zone, the pen.

    An act without a pen can read and note, but state nothing. `device` is the cookie by which
    its browser is known, where it has one.
    """

    session: Session
    actor: Actor
    at: datetime
    zone: str = "UTC"
    pen: Pen | None = None
    device: str = ""

    @property
    def today(self) -> date:
        """The school's calendar day of this act."""
        return clock.school_day(self.at, self.zone)

    def mark(self, about: str) -> str:
        """What tells this browser from others in one matter alone; empty for one not known."""
        return sha256_hex(f"{self.device} {about}".encode()) if self.device else ""

    def as_school(self) -> "Act":
        """The same act signed by the school's key, for what the server itself attests."""
        return replace(self, pen=None if self.pen is None else Pen(self.pen.house))

    def state(self, kind: str, enrolment_id: str | None, body: Mapping[str, Any]) -> Placed:
        """Sign a statement and enter it in the ledger; what it says cannot be taken back.

        Raises RuntimeError for an act without a pen, ChangedError when the actor brought
        another statement than this one.
        """
        if self.pen is None:
            raise RuntimeError(f"{kind}: this act has nothing to sign with")
        hand = self.pen.hand
        if hand is self.pen.house:
            check_house(self.session, hand.kid)
        statement = Statement(
            id=str(uuid.uuid4()),
            type=kind,
            actor=self.actor.person_id or SERVER,
            assurance=hand.assurance,
            claimed_at=clock.zulu(self.at),
            tz=self.zone,
            nonce=secrets.token_hex(16),
            subject=enrolment_id,
            body=dict(body),
        )
        return ledger.append(
            self.session, statement, hand, self.at, self.actor.person_id or None
        )

    def state_row(self, kind: str, enrolment_id: str | None, row: Table, **more: str) -> Placed:
        """State what a row says (see `mirrors`), and what no column of it holds."""
        return self.state(kind, enrolment_id, {**body_of(kind, row), **more})

    def note(
        self,
        action: Action,
        object_id: str | None,
        enrolment_id: str | None = None,
        **facts: Any,  # noqa: ANN401 - JSON values
    ) -> None:
        """Add the audit event of this act."""
        event = AuditEvent(
            at=self.at,
            actor_id=self.actor.person_id or None,
            action=action.value,
            object_id=object_id,
            enrolment_id=enrolment_id,
            facts=facts,
        )
        auditing.add(self.session, event)


def check_house(session: Session, kid: str) -> None:
    """Return when this is the school's key in force; BusyError when it has just changed."""
    school = people.school(session)
    if school is not None and keys.kid(notes.read_verifier_key(school.vkey)[2]) != kid:
        raise BusyError(say("The key of the school has just been changed. Try again."))
