"""The kinds of statements in words. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

from syllabus.saying import say

WORDS: Mapping[str, str] = {
    "school.open": say("The school opened its ledger"),
    "key.enrol": say("A signing key was introduced"),
    "key.revoke": say("A signing key was revoked"),
    "key.rotate": say("The school's key was changed"),
    "key.compromised": say("The school's key was declared compromised"),
    "role.grant": say("A role was granted"),
    "role.revoke": say("A role was revoked"),
    "enrolment.enrol": say("A student was enrolled"),
    "enrolment.assign": say("An instructor was assigned"),
    "enrolment.unassign": say("An instructor's assignment ended"),
    "enrolment.end": say("An enrolment ended"),
    "record.sign": say("A lesson record was signed"),
    "record.acknowledge": say("A record was acknowledged"),
    "record.disagree": say("A student disagreed with a record"),
    "record.void": say("A record was declared void"),
    "record.certify": say("A copy was certified"),
    "event.file": say("Something was put on file"),
    "check.recommend": say("A stage check was recommended"),
    "check.approve": say("A stage check was approved"),
    "watch.close": say("A watch item was closed by decision"),
    "audit.mark": say("The length of the audit trail was fixed"),
    "foreign.take": say("A record from another school was taken in"),
    "foreign.trust": say("Another school's key was trusted"),
    "erasure.ask": say("Erasing a student's records was asked for"),
    "erasure.confirm": say("Erasing a student's records was confirmed"),
    "erasure.withdraw": say("Erasing a student's records was called off"),
    "record.erase": say("A student's records were erased"),
    "erased": say("Erased"),
}

SURE: Mapping[str, str] = {
    "secret": say("signed with the secret typed"),
    "secret+code": say("signed with the secret and a second factor"),
    "session": say("signed in an open session"),
    "device": say("signed on a phone, with the key it holds"),
    "school": say("entered by the school"),
    "adopted": say("taken over from before the ledger"),
}
"""How sure a signature is."""


def kind_words(kind: str, body: Mapping[str, object]) -> str:
    """What a statement does, in words; its kind's code when the kind is unknown."""
    if kind == "record.sign" and body.get("amends"):
        return say("A lesson record was amended")
    return WORDS.get(kind, kind)


ENTRIES = ("asked", "confirmed")
"""Names of values that are numbers of entries."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing that a body says: its name, and its value or all members of its list.

    `digests`: the members are numbers with hashes, which nobody reads. `entry`: the value is
    the number of this entry.
    """

    name: str
    values: tuple[str, ...]
    is_list: bool = False
    digests: bool = False
    entry: int | None = None


def parts(body: Mapping[str, object], names: Mapping[str, str] | None = None) -> list[Part]:
    """What a body says; people's ids as their names, where `names` knows them.

    The card as it was typed is left out: the rest says the same in its final form.
    """
    found, known = [], names or {}
    for name, value in body.items():
        path = name.replace("_", " ")
        if name == "card" or value in (None, "", []):
            continue
        if isinstance(value, list):
            digests = any(isinstance(one, list) for one in value)
            found.append(Part(path, tuple(map(_said, value)), is_list=True, digests=digests))
        else:
            said = _said(value)
            entry = value if name in ENTRIES and type(value) is int else None
            found.append(Part(path, (known.get(said, said),), entry=entry))
    return found


def lines(body: Mapping[str, object]) -> list[tuple[str, str]]:
    """The same, a line a value; each member of a list is one line of its own."""
    return [
        (f"{part.name} {place}" if part.is_list else part.name, words)
        for part in parts(body)
        for place, words in enumerate(part.values, 1)
    ]


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        said = ((name, one) for name, one in value.items() if one not in (None, "", []))
        return ", ".join(f"{name.replace('_', ' ')} {_said(one)}" for name, one in said)
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value)
    return str(value)
