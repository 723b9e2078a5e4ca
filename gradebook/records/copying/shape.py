"""The shape of what a copy shows: read strictly, for another school's may hold anything."""

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.fields import (
    MOMENT,
    Check,
    fitting,
    is_object,
    is_text,
    list_of,
    or_none,
    whole,
)

MOST = 10 * 1024 * 1024
"""Bytes of a portable file that is taken in."""

_entry = whole(0)


def _is_bool(value: object) -> bool:
    return isinstance(value, bool)


def _is_amount(value: object) -> bool:
    return is_text(value) or _entry(value)


def _is_day(value: object) -> bool:
    """An ISO day, or nothing."""
    if not isinstance(value, str):
        return False
    try:
        return value == "" or date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def _is_moment(value: object) -> bool:
    """A moment in UTC as statements write it, or nothing."""
    return value == "" or (isinstance(value, str) and MOMENT(value) and _is_day(value[:10]))


_DAYS = {"on", "enrolled_on", "ended_on"}
_MOMENTS = {"at", "signed_at", "recommended_at", "approved_at", "since"}


def _texts(names: str) -> dict[str, Check]:
    """Fields that hold text; those named for a day or a moment hold one."""
    kinds = {**dict.fromkeys(_DAYS, _is_day), **dict.fromkeys(_MOMENTS, _is_moment)}
    return {name: kinds.get(name, is_text) for name in names.split()}


def _object(checks: Mapping[str, Check]) -> Check:
    def check(value: object) -> bool:
        try:
            fitting(value, checks, "a part of a copy")
        except MalformedError:
            return False
        return True

    return check


def _rows(checks: Mapping[str, Check]) -> Check:
    return list_of(_object(checks))


_TIMES = _rows({**_texts("field words kind"), "amount": _is_amount})
_GRADE = {
    **_texts("task title scale level words target carried_from remark own"),
    "meets": or_none(_is_bool),
    "together": _is_bool,
}
_ANSWER = {**_texts("comment at"), "agrees": _is_bool, "entry": _entry}
_READING: Mapping[str, Check] = {
    **_texts("words value unit"),
    "within": or_none(_is_bool),
}
_HELD = {**_READING, "held_to": is_text}
"""A reading with the limits it was held to; files of before never name them."""


def _is_reading(value: object) -> bool:
    return _object(_READING)(value) or _object(_HELD)(value)


_LESSON: Mapping[str, Check] = {
    **_texts("record digest lesson title stage kind on state instructor number signed_at"),
    **_texts("assurance aircraft outcome remarks next_lesson exception"),
    "entry": _entry,
    "attempt": _entry,
    "counts": _is_bool,
    "imported": _is_bool,
    "times": _TIMES,
    "grades": _rows(_GRADE),
    "errors": _rows(_texts("task code words severity found")),
    "readings": list_of(_is_reading),
    "amends": or_none(_object({"entry": _entry, "reason": is_text})),
    "superseded_by": or_none(_entry),
    "void": or_none(_object({**_texts("at reason"), "entry": _entry})),
    "answer": or_none(_object(_ANSWER)),
}
_CHECK: Mapping[str, Check] = {
    **_texts("stage recommended_by recommended_at approved_by approved_at checker"),
    **_texts("checker_number reason result on"),
    "not_independent": _is_bool,
    "missing_then": list_of(is_text),
    **dict.fromkeys(("record_entry", "entry", "approval_entry"), _entry),
}
_BECAUSE = {**_CHECK, "recommended_because": is_text}
"""A check that was recommended before everything was met; files of before never say why."""


def _is_check(value: object) -> bool:
    return _object(_CHECK)(value) or _object(_BECAUSE)(value)


_COURSE = {
    **_texts("code title revision"),
    "stages": _rows({"title": is_text, "lessons": list_of(is_text)}),
}
_CERTIFICATE = {
    **_texts("purpose by number post meaning at at_local"),
    "offset_minutes": whole(-1440, 1440),
}
_SHOWN: Mapping[str, Check] = {
    "version": whole(1, 1),
    "school": _object(_texts("name origin zone hours")),
    "student": _object(_texts("name number")),
    "course": _object(_COURSE),
    "enrolment": _object(
        {**_texts("enrolled_on ended_on how reason"), "entry": _entry, "end_entry": _entry}
    ),
    "certificate": _object(_CERTIFICATE),
    "missing": _rows({**_texts("words citation"), "blocks": _is_bool}),
    "cautions": list_of(is_text),
    "teachers": _rows(
        {
            **_texts("name number since"),
            "until": _is_moment,
            "principal": _is_bool,
            "entry": _entry,
        }
    ),
    "totals": _TIMES,
    "tests": _rows({**_texts("on name grade words by"), "entry": _entry}),
    "lessons": _rows(_LESSON),
    "checks": list_of(_is_check),
    "file": _rows(
        {
            **_texts("kind what on words by number"),
            "until": _is_day,
            "passed": _is_bool,
            "entry": _entry,
        }
    ),
    "decisions": _rows({**_texts("task words on by reason"), "entry": _entry}),
    "foreign": _rows(
        {
            **_texts("origin fingerprint sha256 words at"),
            "verified": _is_bool,
            "entry": _entry,
        }
    ),
}


def read_shown(value: object) -> dict[str, Any]:
    """What a copy shows, if it is all there and each part is what it should be.

    MalformedError otherwise. Nothing is said about whether it is true.
    """
    return fitting(value, _SHOWN, "what a copy shows")


def shown_in(data: bytes) -> dict[str, Any]:
    """What the copy in a verified portable file shows; MalformedError if it cannot be shown."""
    fields = json.loads(data)
    if not is_object(fields):
        raise MalformedError("not a portable record")
    return read_shown(fields.get("shown"))
