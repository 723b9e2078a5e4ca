"""The kinds of statements in words. Pure."""

from collections.abc import Mapping

WORDS: Mapping[str, str] = {
    "school.open": "The school opened its ledger",
    "key.enrol": "A signing key was introduced",
    "key.revoke": "A signing key was revoked",
    "role.grant": "A role was granted",
    "role.revoke": "A role was revoked",
    "enrolment.enrol": "A student was enrolled",
    "enrolment.assign": "An instructor was assigned",
    "enrolment.unassign": "An instructor's assignment ended",
    "enrolment.end": "An enrolment ended",
    "record.sign": "A lesson record was signed",
    "record.acknowledge": "A record was acknowledged",
    "record.disagree": "A student disagreed with a record",
    "record.void": "A record was declared void",
    "record.certify": "A copy was certified",
    "event.file": "Something was put on file",
    "check.recommend": "A stage check was recommended",
    "check.approve": "A stage check was approved",
    "watch.close": "A watch item was closed by decision",
    "audit.mark": "The length of the audit trail was fixed",
    "foreign.take": "A record from another school was taken in",
    "foreign.trust": "Another school's key was trusted",
}

SURE: Mapping[str, str] = {
    "secret": "signed with the secret typed",
    "secret+code": "signed with the secret and a second factor",
    "session": "signed in an open session",
    "device": "signed on a phone, with the key it holds",
    "school": "entered by the school",
    "adopted": "taken over from before the ledger",
}
"""How sure a signature is."""


def kind_words(kind: str, body: Mapping[str, object]) -> str:
    """What a statement does, in words; its kind's code when the kind is unknown."""
    if kind == "record.sign" and body.get("amends"):
        return "A lesson record was amended"
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
