"""A small ledger made in memory, honest or not, and the portable record of one student."""

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from hashlib import sha256
from typing import Any

from gradebook.ledger import keys, tree
from gradebook.ledger.bundle import certificate, revision
from gradebook.ledger.canonical import jcs, sha256_hex
from gradebook.ledger.notes import Checkpoint, sign_note, verifier_key
from gradebook.ledger.statements import Entry, Statement

ORIGIN = "kelpmoor.example/ledger"
ANA, ELI = "enrolment-ana", "enrolment-eli"
PEOPLE = {
    "school": "Kelpmoor",
    "ben": "Ben Ormsay",
    "ana": "Ana Lisk",
    "cleo": "Cleo Tarn",
    "dov": "Dov Rill",
    "eve": "Eve Sollow",
    "phone": "Ben Ormsay",
}
FILES = {
    "course.toml": 'title = "Hover"\n[stage]\ncode = "S1"\n',
    "tasks/é.toml": "# tasks\n",
    "tasks/\ufb33.toml": "a = 1\n",
    "tasks/\U0001f681.toml": "",
}


def seed(holder: str) -> bytes:
    """The key of a person of this story."""
    return sha256(holder.encode()).digest()


def public(holder: str) -> bytes:
    return keys.public_of(seed(holder))


def key_of(holder: str) -> dict[str, str]:
    """What a statement that introduces the key holds."""
    of = public(holder)
    return {"kid": keys.kid(of), "public": of.hex(), "holder": holder, "name": PEOPLE[holder]}


class Ledger:
    """Entries with their statements; `twist` may spoil the next entry before it is kept."""

    def __init__(self) -> None:
        self.statements: list[bytes] = []
        self.entries: list[Entry] = []
        self.rows: list[list[bytes]] = []

    def node_at(self, row: int, level: int) -> bytes:
        return self.rows[row - 1][level]

    def say(
        self,
        kind: str,
        actor: str,
        body: dict[str, Any],
        subject: str | None = None,
        signer: str | None = None,
        twist: Callable[[Entry], Entry] = lambda entry: entry,
        text: bytes | None = None,
        assurance: str = "device-key",
    ) -> str:
        """Sign, append, and return the hash of the statement."""
        seq = len(self.entries) + 1
        day = f"2026-03-{(seq - 1) % 31 + 1:02}"
        digits = sha256_hex(f"{seq}".encode())
        said = (
            text
            or Statement(
                id=f"{digits[:8]}-0000-4000-8000-{digits[:12]}",
                type=kind,
                actor=actor,
                assurance=assurance,
                claimed_at=f"{day}T14:05:00Z",
                tz="Atlantic/Azores",
                nonce=digits[:32],
                subject=subject,
                body=body,
            ).text()
        )
        by = seed(signer or actor)
        entry = Entry(
            seq=seq,
            prev=self.entries[-1].leaf().hex() if self.entries else None,
            recorded_at=f"{day}T14:05:01Z",
            stmt_sha256=sha256_hex(said),
            kid=keys.kid(keys.public_of(by)),
            sig=keys.sign_statement(by, said).hex(),
        )
        entry = twist(entry)
        self.rows.append(tree.append(len(self.rows), entry.leaf(), self.node_at))
        self.entries.append(entry)
        self.statements.append(said)
        return sha256_hex(said)

    def sign(self, lesson: str, subject: str = ANA, **more: Any) -> str:
        """Ben signs a lesson."""
        body = {"lesson": lesson, "grades": {"T1": "3"}, "remarks": f"{lesson}: crosswind é"}
        return self.say("record.sign", "ben", body | more, subject)

    def enrol(self, holder: str) -> str:
        return self.say("key.enrol", "school", key_of(holder))

    def checkpoint(self, size: int | None = None, by: str = "school") -> str:
        size = len(self.rows) if size is None else size
        made = Checkpoint(ORIGIN, size, tree.root_at(size, self.node_at))
        return sign_note(made.text(), ORIGIN, seed(by))

    def items(self, seqs: list[int], erased: set[int]) -> list[dict[str, Any]]:
        """These entries as the file holds them."""
        return [
            {
                "seq": seq,
                "entry": self.entries[seq - 1].text().decode(),
                "statement": None if seq in erased else self.statements[seq - 1].decode(),
                "proof": [
                    one.hex() for one in tree.inclusion(seq - 1, len(self.rows), self.node_at)
                ],
            }
            for seq in seqs
        ]


def opened() -> Ledger:
    """The first five entries: the school's key and four people's."""
    ledger = Ledger()
    ledger.say("school.open", "school", key_of("school"))
    for holder in ("ben", "ana", "cleo", "dov"):
        ledger.enrol(holder)
    return ledger


def story() -> Ledger:
    """Ana's training in seventeen entries, up to before its certificate; two are Eli's."""
    ledger = opened()
    ledger.sign("L1", ELI)
    first = ledger.sign("L1")
    ledger.say("record.acknowledge", "ana", {"acknowledges": first}, ANA)
    ledger.sign("L1", supersedes=first, reason="wrong grade")
    second = ledger.sign("L2")
    ledger.say("key.revoke", "school", {"kid": key_of("dov")["kid"]})
    ledger.say("record.void", "cleo", {"voids": second, "reason": "another student"}, ANA)
    third = ledger.sign("L3")
    ledger.say("record.erase", "cleo", {"erases": third, "basis": "asked for"}, ANA)
    fourth = ledger.sign("L4")
    ledger.sign("L2", ELI)
    ledger.say("record.acknowledge", "ana", {"acknowledges": fourth}, ANA)
    return ledger


ERASED = {13}
OF_ANA = [7, 8, 9, 10, 12, 13, 14, 15, 17]
OF_KEYS = [1, 2, 3, 4, 5, 11]
IN_FORCE = [9, 15]


def fields_of(
    ledger: Ledger,
    about: list[int],
    beside: list[int],
    in_force: list[int],
    erased: set[int],
    certify: dict[str, Any] | None = None,
    after: int = 1,
    school: str = "school",
) -> dict[str, Any]:
    """Certify these entries of Ana's, let the ledger grow on, and make the file's fields."""
    fields: dict[str, Any] = {
        "format": "windtee-record/1",
        "origin": ORIGIN,
        "vkey": verifier_key(ORIGIN, public(school)),
        "issued_at": "2026-04-01T08:00:00Z",
        "subject": {"enrolment": ANA, "student": "ana", "name": "Ana Lisk", "course": "Hover"},
        "revisions": [revision(FILES)],
        "shown": {"total": 312, "goals": ["solo", "check"], "school": "Kelpmoor", "note": None},
    }
    body = certificate(fields, about, beside) | (certify or {})
    ledger.say("record.certify", "cleo", body, ANA, school)
    seqs = sorted([*about, *beside, len(ledger.entries)])
    for _ in range(after):
        ledger.sign("L9", ELI)
    return fields | {
        "checkpoint": ledger.checkpoint(by=school),
        "keys": introduced(ledger, beside),
        "entries": ledger.items(seqs, erased),
        "current": [identity(ledger, seq) for seq in in_force],
    }


def introduced(ledger: Ledger, seqs: list[int]) -> list[dict[str, str]]:
    """The keys that the statements at these places introduce, rightly or not."""
    names = ("kid", "public", "holder", "name")
    said = (json.loads(ledger.statements[seq - 1]) for seq in sorted(seqs))
    kinds = ("school.open", "key.enrol", "key.rotate", "key.compromised")
    bodies = (one["body"] for one in said if one["type"] in kinds)
    whole = (one for one in bodies if all(isinstance(one.get(name), str) for name in names))
    found = [{name: body[name] for name in names} for body in whole]
    return list({key["kid"]: key for key in found}.values())


def identity(ledger: Ledger, seq: int) -> str:
    """The id of the statement at this place."""
    return str(json.loads(ledger.statements[seq - 1])["id"])


def written(fields: dict[str, Any]) -> bytes:
    """The file, whatever is in it."""
    return jcs(fields) + b"\n"


_LEDGER = story()
_FIELDS = fields_of(_LEDGER, OF_ANA, OF_KEYS, IN_FORCE, ERASED)
GOOD = written(_FIELDS)


def good_fields() -> dict[str, Any]:
    """The fields of a good file, to be spoilt."""
    return deepcopy(_FIELDS)


def good_ledger() -> Ledger:
    """The ledger behind it, certificate and one more entry included."""
    return _LEDGER


def wrong_signature(entry: Entry) -> Entry:
    return replace(entry, sig=entry.sig[:-4] + "0000")
