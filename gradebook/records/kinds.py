"""The kinds of statements in words. Pure."""

from collections.abc import Mapping

from syllabus.saying import say

WORDS: Mapping[str, str] = {
    "school.open": say("The school opened its ledger"),
    "key.enrol": say("A signing key was introduced"),
    "key.revoke": say("A signing key was revoked"),
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


def lines(body: Mapping[str, object]) -> list[tuple[str, str]]:
    """What a body says, a line a value; each member of a list is one line of its own.

    The card as it was typed is left out: the rest says the same in its final form.
    """
    found: list[tuple[str, str]] = []
    for name, value in body.items():
        path = name.replace("_", " ")
        if name == "card" or value in (None, "", []):
            continue
        if isinstance(value, list):
            found += [(f"{path} {place}", _said(one)) for place, one in enumerate(value, 1)]
        else:
            found.append((path, _said(value)))
    return found


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        said = ((name, one) for name, one in value.items() if one not in (None, "", []))
        return ", ".join(f"{name.replace('_', ' ')} {_said(one)}" for name, one in said)
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value)
    return str(value)
