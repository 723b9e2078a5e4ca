"""One act: a session, who acts, and when. Its audit event shares the transaction."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.records.permissions import Action, Actor
from gradebook.records.tables.audit import AuditEvent


@dataclass(frozen=True, slots=True)
class Act:
    """What every command gets: the open transaction, the actor, the moment, the zone."""

    session: Session
    actor: Actor
    at: datetime
    zone: str = "UTC"

    @property
    def today(self) -> date:
        """The school's calendar day of this act."""
        return clock.school_day(self.at, self.zone)

    def note(
        self,
        action: Action,
        object_id: str | None,
        enrolment_id: str | None = None,
        **facts: Any,  # noqa: ANN401 - JSON values
    ) -> None:
        """Add the audit event of this act."""
        self.session.add(
            AuditEvent(
                at=self.at,
                actor_id=self.actor.person_id or None,
                action=action.value,
                object_id=object_id,
                enrolment_id=enrolment_id,
                facts=facts,
            )
        )
