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
}

SURE: Mapping[str, str] = {
    "secret": "signed with the secret typed",
    "secret+code": "signed with the secret and a second factor",
    "session": "signed in an open session",
    "school": "entered by the school",
    "adopted": "taken over from before the ledger",
}
"""How sure a signature is."""


def kind_words(kind: str, body: Mapping[str, object]) -> str:
    """What a statement does, in words; its kind's code when the kind is unknown."""
    if kind == "record.sign" and body.get("amends"):
        return "A lesson record was amended"
    return WORDS.get(kind, kind)


def lines(body: Mapping[str, object], before: str = "") -> list[tuple[str, str]]:
    """Everything a body says, one line a value, each with the path to it in words."""
    found: list[tuple[str, str]] = []
    for name, value in body.items():
        path = f"{before}{name.replace('_', ' ')}"
        if isinstance(value, Mapping):
            found += lines(value, f"{path}, ")
        elif isinstance(value, list):
            for number, one in enumerate(value, start=1):
                inner = one if isinstance(one, Mapping) else {"": one}
                found += lines(inner, f"{path} {number}, ")
        elif value not in (None, "", []):
            found.append((path.removesuffix(", "), _said(value)))
    return found


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
