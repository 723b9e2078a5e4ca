"""Ben's phone: set up, away from the network, and back to deliver what it wrote."""

import json
import uuid
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from werkzeug.test import TestResponse

from gradebook import clock
from gradebook.ledger import keys
from gradebook.ledger.statements import DEVICE, Statement
from gradebook.records.act import Act
from gradebook.records.card import Card
from gradebook.records.commands import opening, phones, signing
from gradebook.records.pen import Pen, Signed, house_of
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, TestSchool, Visitor
from tests.story import FLOWN

SEED = bytes(range(64, 96))


class HeardError(Exception):
    """The statement has been heard; nothing shall be written."""


@dataclass
class Ear:
    """A hand that hears what it should sign, and puts the pen down."""

    kid: str = ""
    assurance: str = DEVICE
    heard: list[Statement] = field(default_factory=list)

    def sign(self, statement: Statement) -> Signed:
        """Remember what was to be signed; the transaction ends there."""
        self.heard.append(statement)
        raise HeardError


class Phone:
    """One phone of one person, with a session and a key of its own."""

    def __init__(self, school: TestSchool, who: str = "ben", seed: bytes = SEED) -> None:
        self.school, self.who, self.seed = school, who, seed
        self.person = school.ids[who]
        self.visitor: Visitor = school.visitor(who)
        self.client = self.visitor.client
        self.kid = keys.kid(keys.public_of(seed))
        self.off = timedelta()

    @property
    def clock(self) -> datetime:
        """What the phone takes the time to be."""
        return self.school.clock.at + self.off

    def token(self) -> dict[str, Any]:
        """What the phone gets before it sends anything."""
        answer = self.client.get("/api/token")
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json
        return found

    def headers(self) -> dict[str, str]:
        """The headers of whatever the phone sends."""
        return {"X-CSRFToken": self.token()["csrf"]}

    def enrol(self, status: int = 201, **changes: str) -> TestResponse:
        """Let the school know this phone's key."""
        nonce = self.token()["nonce"]
        proof = keys.sign(self.seed, phones.proof_text(self.person, nonce))
        sent = {
            "name": "Ben's phone",
            "public": keys.public_of(self.seed).hex(),
            "proof": proof.hex(),
            "secret": SECRET,
            **changes,
        }
        answer = self.client.post("/api/phones", json=sent, headers=self.headers())
        assert answer.status_code == status, answer.text
        return answer

    def pocket(self) -> dict[str, Any]:
        """What the phone takes along."""
        answer = self.client.get("/api/pocket")
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json
        return found

    def body(self, record: str, enrolment: str, lesson: str, card: Card) -> Statement:
        """What the school would state of this card now; nothing is kept of it."""
        ear = Ear(self.kid)
        try:
            with self.school.database.write() as session:
                act = self.school.act(session, self.who)
                version = _saved(act, record, enrolment, lesson, card)
                mine = replace(act, pen=Pen(house_of(self.school.settings.seed), brought=ear))
                signing.sign_record(mine, signing.SignRecord(record, version))
        except HeardError:
            pass
        return ear.heard[0]

    def sign(self, said: Statement) -> dict[str, str]:
        """Sign a statement with the phone's key, by the phone's clock."""
        mine = replace(said, id=str(uuid.uuid4()), claimed_at=clock.zulu(self.clock))
        text = mine.text()
        sig = keys.sign_statement(self.seed, text).hex()
        return {"text": text.decode(), "sig": sig, "kid": self.kid}

    def letter(
        self,
        record: str = "",
        *,
        card: Card = FLOWN,
        version: int = 0,
        signed: bool = True,
        lesson: str = "s-01",
        enrolment: str = "",
    ) -> "Letter":
        """A card written, and signed unless it is a draft."""
        record, enrolment = record or uuid.uuid4().hex, enrolment or self.school.enrolment
        seal = self.sign(self.body(record, enrolment, lesson, card)) if signed else None
        sent = {
            "enrolment": enrolment,
            "lesson": lesson,
            "card": card.as_json(),
            "client_time": clock.zulu(self.clock),
            "signed": seal,
        }
        return Letter(record, version, json.dumps(sent).encode())

    def send(self, letter: "Letter", status: int | None = None, **headers: str) -> TestResponse:
        """Deliver a letter; `headers` replace the usual ones (`__` for a hyphen)."""
        usual = {
            **letter.headers,
            "X-Author": self.person,
            **self.headers(),
        }
        changed = {name.replace("__", "-"): words for name, words in headers.items()}
        sent = {name: words for name, words in {**usual, **changed}.items() if words}
        path = f"/api/lessons/{letter.record}"
        answer = self.client.put(path, data=letter.data, headers=sent)
        if status is not None:
            assert answer.status_code == status, (answer.status_code, answer.text)
        return answer


@dataclass(frozen=True)
class Letter:
    """One letter of the outbox: its bytes never change."""

    record: str
    version: int
    data: bytes
    key: str = field(default_factory=lambda: str(uuid.uuid4()))
    age: int = 0

    @property
    def headers(self) -> dict[str, str]:
        """The headers that say which letter it is."""
        return {
            "Idempotency-Key": self.key,
            "If-Match": f'"{self.version}"',
            "X-Age-Ms": str(self.age),
            "Content-Type": "application/json",
        }


def _saved(act: Act, record: str, enrolment: str, lesson: str, card: Card) -> int:
    """The card in its record, which is made where there is none; its version."""
    if act.session.get(LessonRecord, record) is None:
        opening.open_record(act, opening.OpenRecord(enrolment, lesson, record))
    row = act.session.get(LessonRecord, record)
    assert row is not None
    return opening.save_card(act, opening.SaveCard(record, row.version, card)).version


def record(phone: Phone, name: str) -> LessonRecord | None:
    """A record as the database holds it."""
    with phone.school.database.read() as session:
        return session.get(LessonRecord, name)


def counts(phone: Phone) -> list[int]:
    """How many entries, records, audit events and deliveries there are."""
    with phone.school.database.read() as session:
        tables = (LedgerEntry.seq, LessonRecord.id, AuditEvent.id, Delivery.id)
        return [session.scalar(select(func.count(one))) or 0 for one in tables]


def changed(letter: Letter, **fields: Any) -> Letter:
    """Another letter, some of whose fields say something else."""
    sent = {**json.loads(letter.data), **fields}
    return Letter(letter.record, letter.version, json.dumps(sent).encode())
