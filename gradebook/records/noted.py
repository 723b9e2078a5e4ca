"""What the audit trail keeps of an act, in words. Pure."""

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime

from gradebook.formats import moment
from syllabus.saying import dated, joined, say

FLAGS: Mapping[str, tuple[str, str]] = {
    "active": (say("account active"), say("account closed")),
    "again": (say("once more"), ""),
    "agrees": (say("agrees"), say("disagrees")),
    "at_the_server": (say("at the server"), ""),
    "away": (say("kept outside the folder of data"), say("kept beside the records")),
    "brought_back": (say("a draft thrown away came back"), ""),
    "called_off": (say("called off"), ""),
    "changed_own_secret": (say("changed the secret"), ""),
    "clears_factors": (say("clears the second factors"), ""),
    "clock_off": (say("the phone's clock was far off"), ""),
    "confirmed_clearing_factors": (say("confirmed that second factors are cleared"), ""),
    "early": (say("before the end of retention"), ""),
    "ended": (say("assignment ended"), ""),
    "failed": (say("it failed"), ""),
    "failed_sign_in": (say("a failed attempt to sign in"), ""),
    "looked": (say("the first look of that day"), ""),
    "made_link": (say("made a one-time link"), ""),
    "not_independent": (say("not independent"), ""),
    "passed": (say("passed or in order"), say("not passed")),
    "principal": (say("as principal instructor"), ""),
    "ready": (say("every requirement met"), say("requirements not met")),
    "same_device": (say("on the device it was signed on"), say("not known to be that device")),
    "sealed": (say("sealed"), say("not sealed")),
    "secret_shown": (say("signed in with the secret"), ""),
    "signed_out": (say("signed out"), ""),
    "used_recovery_code": (say("used a recovery code"), ""),
    "verified": (say("key compared: verified"), say("key not compared: unverified")),
    "withdrew_link": (say("withdrew a one-time link"), ""),
}
"""What is true or false: what is said of it then. Nothing stands for what need not be said."""

LABELS: Mapping[str, str] = {
    "added": say("added"),
    "added_factor": say("added second factor"),
    "address": say("address"),
    "again": say("carried out again, entry"),
    "amends": say("amends"),
    "asked_for": say("asked for"),
    "before": say("before"),
    "by": say("by entry"),
    "certificate": say("certificate"),
    "checker": say("checker"),
    "client_time": say("written, by the phone's clock"),
    "clock_off_seconds": say("seconds the clock was off"),
    "code": say("code"),
    "confirmed": say("confirmed"),
    "course": say("course"),
    "declined": say("declined"),
    "delivered": say("delivered letter"),
    "delivered_again": say("letter delivered again"),
    "denied": say("denied"),
    "device": say("device"),
    "digest": say("digest"),
    "disowned": say("entries disowned"),
    "ended_phone": say("phone that no longer signs"),
    "ended_session": say("ended session"),
    "ended_sessions": say("ended sessions"),
    "entries": say("entries"),
    "entries_lacking": say("entries lacking"),
    "error": say("error"),
    "estimate": say("written, by our clock"),
    "factor_shown": say("second factor shown"),
    "file": say("file"),
    "findings": say("findings"),
    "follows": say("follows the key"),
    "form": say("form"),
    "good_size": say("entries before the compromise"),
    "grades": say("grades"),
    "granted": say("granted"),
    "how": say("how"),
    "instructor": say("instructor"),
    "job": say("long work"),
    "key": say("key"),
    "kid": say("key"),
    "label": say("label"),
    "language": say("language"),
    "left": say("left"),
    "lesson": say("lesson"),
    "lessons": say("lessons"),
    "made_recovery_codes": say("made recovery codes"),
    "missing": say("gaps"),
    "n": say("number"),
    "not_independent": say("checks not independent"),
    "phone": say("phone"),
    "purpose": say("purpose"),
    "put_back": say("put back"),
    "reason": say("reason"),
    "received_at": say("received"),
    "removed": say("taken away"),
    "removed_factor": say("removed second factor"),
    "result": say("result"),
    "revoked": say("revoked"),
    "right": say("rows that were right"),
    "rows": say("rows"),
    "sha256": say("digest of the file"),
    "stage": say("stage"),
    "student": say("student"),
    "students": say("students"),
    "table": say("table"),
    "task": say("task"),
    "term": say("certificate holds"),
    "times": say("times"),
    "trusted": say("trusted key"),
    "until": say("until"),
    "used_link": say("used a link for"),
    "verdict": say("verdict"),
    "verified": say("entries verified"),
    "why": say("reason"),
    "years": say("years"),
}
"""What stands before a value."""

_FACTORS = {
    "code": say("code generator"),
    "passkey": say("passkey"),
    "recovery": say("recovery code"),
}
VALUES: Mapping[str, Mapping[str, str]] = {
    "added_factor": _FACTORS,
    "factor_shown": _FACTORS,
    "removed_factor": _FACTORS,
    "job": {
        "import file": say("importing a file"),
        "prove": say("proving the records"),
    },
    "language": {
        "de": say("in German"),
        "en": say("in English"),
        "automatic": say("as the browser asks"),
    },
    "term": {
        "expires": say("to a day"),
        "recent-experience": say("by recent experience"),
        "endless": say("without end"),
    },
    "used_link": {"join": say("joining"), "reset": say("a new secret")},
}
"""What stands for a value that is a code."""
CODED = frozenset(
    ("asked_for", "confirmed", "declined", "granted", "how", "purpose", "revoked")
)
"""Facts whose values are roles, endings and purposes, which are words as they are."""
SILENT = frozenset(("card", "draft"))
"""Kept so that a draft can come back, not to be read."""
_DIGEST = re.compile("[0-9a-f]{32,}")


def noted(facts: Mapping[str, object], names: Mapping[str, str], zone: str) -> list[str]:
    """What was kept, fact by fact; people's ids as names, moments as in the school's zone."""
    return list(_noted(facts, names, zone))


def _noted(facts: Mapping[str, object], names: Mapping[str, str], zone: str) -> Iterator[str]:
    for name, value in facts.items():
        if name in SILENT or value in ("", None, [], {}):
            continue
        if isinstance(value, bool):
            if words := _flag(name, is_so=value):
                yield words
            continue
        label = LABELS.get(name, name.replace("_", " "))
        yield say("{label}: {value}", label=label, value=_value(name, value, names, zone))


def _flag(name: str, *, is_so: bool) -> str:
    if name not in FLAGS:
        answer = say("yes") if is_so else say("no")
        return say("{label}: {value}", label=name.replace("_", " "), value=answer)
    return FLAGS[name][0 if is_so else 1]


def _value(name: str, value: object, names: Mapping[str, str], zone: str) -> str:
    if isinstance(value, list):
        return joined(", ", [_value(name, one, names, zone) for one in value])
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {one}" for key, one in value.items())
    if not isinstance(value, str):
        return str(value)
    if value in names:
        return names[value]
    if name in CODED:
        return say(value.replace("_", " "))
    return VALUES.get(name, {}).get(value) or _text(name, value, zone)


def _text(name: str, value: str, zone: str) -> str:
    if name in ("client_time", "received_at", "estimate"):
        return moment(datetime.fromisoformat(value), zone)
    if name == "until":
        return dated(date.fromisoformat(value))
    return f"{value[:12]}…" if _DIGEST.fullmatch(value) else value
