"""A letter of a phone's outbox, read strictly: headers and JSON in, a `Letter` out."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from werkzeug.datastructures import Headers

from gradebook.ledger.canonical import MalformedError, parse, sha256_hex
from gradebook.ledger.fields import (
    MOMENT,
    UUID,
    Check,
    fitting,
    hexadecimal,
    is_object,
    is_text,
    list_of,
    or_none,
    text_like,
)
from gradebook.records.card import Card, card_from_json
from gradebook.records.commands.delivering import Letter
from gradebook.records.commands.phones import Seal
from gradebook.records.faults import InvalidError, Problem
from syllabus.saying import say

ID = hexadecimal(32)
VERSION = text_like(r'"?[0-9]{1,9}"?')
AGE = text_like(r"[0-9]{1,12}")  # milliseconds; twelve digits are 31 years
_LETTER: Mapping[str, Check] = {
    "enrolment": ID,
    "lesson": text_like(".{1,60}"),
    "card": is_object,
    "client_time": MOMENT,
    "signed": or_none(is_object),
}
_SEAL: Mapping[str, Check] = {
    "text": is_text,
    "sig": hexadecimal(128),
    "kid": ID,
}
_ENTRY: Mapping[str, Check] = {
    "task": text_like(".{1,60}"),
    "level": is_text,
    "remark": is_text,
    "errors": list_of(is_text),
    "together": lambda value: isinstance(value, bool),
}
_STEP: Mapping[str, Check] = {"item": is_text, "how": text_like("done|prompted|skipped")}
_TEXTS = ("flown_on", "aircraft", "ident", "remarks", "outcome", "next_lesson")


def _texts(value: object) -> bool:
    return isinstance(value, dict) and all(map(is_text, value.values()))


_CARD: Mapping[str, Check] = {
    **dict.fromkeys(_TEXTS, is_text),
    "entries": list_of(is_object),
    "steps": list_of(is_object),
    "readings": _texts,
    "times": _texts,
}


def read_letter(record_id: str, headers: Headers, data: bytes) -> Letter:
    """The letter; InvalidError names the header or the field that cannot be."""
    key = _header(headers, "Idempotency-Key", UUID)
    version = int(_header(headers, "If-Match", VERSION).strip('"'))
    age = int(_header(headers, "X-Age-Ms", AGE))
    if not ID(record_id):
        raise InvalidError(
            Problem("record", say("A record is named by 32 hexadecimal digits."))
        )
    fields = _read(data)
    signed = fields["signed"]
    return Letter(
        key=key,
        sha256=sha256_hex(data),
        record_id=record_id,
        version=version,
        enrolment_id=fields["enrolment"],
        lesson=fields["lesson"],
        card=fields["card"],
        written_at=fields["client_time"],
        age=timedelta(milliseconds=age),
        seal=None if signed is None else Seal(**signed),
    )


def read_object(data: bytes) -> dict[str, Any]:
    """A JSON object that every reader reads alike; InvalidError for anything else."""
    try:
        value = parse(data)
        if not isinstance(value, dict):
            raise MalformedError("not an object")
    except MalformedError as fault:
        raise InvalidError(
            Problem("", say("What was sent cannot be read: {fault}.", fault=fault))
        ) from fault
    if any("\0" in words for words in _words(value)):
        raise InvalidError(Problem("", say("It holds a character that cannot be kept.")))
    return value


def _header(headers: Headers, name: str, check: Check) -> str:
    found = headers.get(name, "")
    if not check(found):
        words = say(
            "The header {name} {value}.",
            name=name,
            value="cannot be so" if found else "is missing",
        )
        raise InvalidError(Problem(name, words))
    return found


def _read(data: bytes) -> dict[str, Any]:
    sent = {"signed": None, **read_object(data)}
    try:
        fields = fitting(sent, _LETTER, "a letter")
        if fields["signed"] is not None:
            fitting(fields["signed"], _SEAL, "a signature")
        fields["card"] = _card(fields["card"])
        fields["client_time"] = datetime.fromisoformat(fields["client_time"])
    except (MalformedError, ValueError) as fault:
        raise InvalidError(
            Problem("", say("What was sent cannot be read: {fault}.", fault=fault))
        ) from fault
    return fields


def _card(sent: object) -> Card:
    fields = fitting(sent, _CARD, "a card")
    for one in fields["entries"]:
        fitting(one, _ENTRY, "an entry of the card")
    for one in fields["steps"]:
        fitting(one, _STEP, "a step of the flow run")
    return card_from_json(fields)


def _words(value: object) -> Iterator[str]:
    """Every text anywhere in it."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for one in value:
            yield from _words(one)
    elif isinstance(value, dict):
        for name, one in value.items():
            yield name
            yield from _words(one)
