"""Taking in what a phone wrote while it was away: once, whole, however often it is sent."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select

from gradebook import clock
from gradebook.records.act import Act
from gradebook.records.card import Card
from gradebook.records.commands import opening, phones, signing
from gradebook.records.commands.phones import Seal
from gradebook.records.commands.throttling import digest
from gradebook.records.faults import ReusedError, StaleError, UnknownError
from gradebook.records.pen import Pen
from gradebook.records.permissions import Action
from gradebook.records.store import lessons
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery as Delivery
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import State
from syllabus.saying import say

KEPT = timedelta(days=180)
"""How long a delivery is remembered; 90 days are promised."""
SKEW = timedelta(minutes=5)
"""How far a phone's clock may be off before that is flagged."""


@dataclass(frozen=True, slots=True)
class Letter:
    """One card as a phone wrote it, with the signature when it was signed there.

    `key` marks the letter, `sha256` (hex) its bytes. `version` is the version the phone began
    from, 0 for a record it made itself. `written_at` is the phone's clock when the words were
    written, `age` how long ago that was by the phone's own count when it sent them.
    """

    key: str
    sha256: str
    record_id: str
    version: int
    enrolment_id: str
    lesson: str
    card: Card
    written_at: datetime
    age: timedelta
    seal: Seal | None = None


def taken(act: Act, letter: Letter) -> Delivery | None:
    """The delivery of this very letter, if it was taken before; ReusedError for another one.

    Writers come one after another, so a letter sent twice at once is found the second time.
    """
    row = act.session.get(Delivery, _name(act, letter))
    if row is None:
        return None
    if (row.sha256, row.record_id) != (letter.sha256, letter.record_id):
        raise ReusedError(say("This key belongs to another letter, which was taken before."))
    return row


def count(act: Act, letter: Letter) -> None:
    """Put in the trail that a letter which was taken came again, and how often by now."""
    query = select(func.count()).where(
        AuditEvent.action == Action.RECORD_GRADE.value,
        AuditEvent.object_id == letter.record_id,
        AuditEvent.facts["delivered_again"].as_string() == letter.key,
    )
    times = (act.session.scalar(query) or 0) + 1
    facts = {"delivered_again": letter.key, "times": times}
    act.note(Action.RECORD_GRADE, letter.record_id, letter.enrolment_id, **facts)


def _name(act: Act, letter: Letter) -> str:
    return digest(f"{act.actor.person_id} {letter.key}")


def deliver(act: Act, letter: Letter) -> LessonRecord:
    """Keep the card, and enter the signature with it; both or none.

    UnknownError for a record that is another one or not here any more, StaleError when it was
    changed or signed meanwhile, ChangedError when what was signed is not what would be signed
    now.
    """
    record = _saved(act, letter)
    if letter.seal is not None:
        hand = phones.brought(act.session, act.actor.person_id, letter.seal)
        pen = None if act.pen is None else Pen(act.pen.house, brought=hand)
        wanted = signing.SignRecord(record.id, record.version)
        signing.sign_record(replace(act, pen=pen), wanted)
    act.note(Action.RECORD_GRADE, record.id, record.enrolment_id, **_noted(act, letter))
    return record


def _saved(act: Act, letter: Letter) -> LessonRecord:
    record = act.session.get(LessonRecord, letter.record_id, options=[lessons.WHOLE])
    version = letter.version
    if record is None:
        if version:
            raise UnknownError  # thrown away, or never here: the phone may begin it anew
        wanted = opening.OpenRecord(letter.enrolment_id, letter.lesson, letter.record_id)
        record = opening.open_record(act, wanted)
        version = record.version
    whose = (record.instructor_id, record.enrolment_id, record.lesson)
    if whose != (act.actor.person_id, letter.enrolment_id, letter.lesson):
        raise UnknownError
    if record.state != State.DRAFT:
        raise StaleError(say("This card was signed meanwhile."))
    return opening.save_card(act, opening.SaveCard(record.id, version, letter.card))


def estimated(act: Act, letter: Letter) -> datetime:
    """When the words were written, by our own clock and the phone's count of the time since."""
    return act.at - letter.age


def _noted(act: Act, letter: Letter) -> dict[str, object]:
    """What the trail says of a delivery; a clock far off is flagged, never refused."""
    moment = estimated(act, letter)
    off = letter.written_at - moment
    facts: dict[str, object] = {
        "delivered": letter.key,
        "client_time": clock.zulu(letter.written_at),
        "received_at": clock.zulu(act.at),
        "estimate": clock.zulu(moment),
        "clock_off_seconds": round(off.total_seconds()),
        "clock_off": abs(off) > SKEW,
    }
    return facts if letter.seal is None else {**facts, "phone": letter.seal.kid}


def keep(act: Act, letter: Letter, status: int, answer: str) -> Delivery:
    """Remember a letter that was taken, and the answer; forget what is older than promised."""
    act.session.execute(delete(Delivery).where(Delivery.received_at < act.at - KEPT))
    row = Delivery(
        id=_name(act, letter),
        person_id=act.actor.person_id,
        record_id=letter.record_id,
        sha256=letter.sha256,
        status=status,
        answer=answer,
        client_time=letter.written_at,
        received_at=act.at,
        estimated_at=estimated(act, letter),
    )
    act.session.add(row)
    return row
