"""The parts of a signature, and the verdict on a portable record."""

import hashlib
import json
from collections.abc import Callable, Iterator
from typing import Any

from gradebook.ledger import keys
from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.statements import Statement
from gradebook.ledger.tree import leaf_hash
from tests.bench.measuring import Figure, plainly
from tests.bench.schools import Sizes
from tests.ledger.small_ledger import ANA, fields_of, opened, public, seed, written

GRADES = 20
BASES = (
    "sign-off: the same rows inserted without a statement",
    "prove: a SELECT of the same rows",
    "canonical text: json.dumps; leaf, signature, verification: one SHA-256 of the text",
    "record: json.loads of the file",
)


def _body() -> dict[str, Any]:
    """What a lesson of 20 grades says."""
    grade = {
        "scale": "LCG-MAN",
        "level": "perform",
        "rank": 4,
        "meets": True,
        "remark": "Fine.",
    }
    return {
        "record": "0" * 32,
        "flown_on": "2026-05-20",
        "times": {"dual": 72, "ground": 30},
        "remarks": "Wind 12 kt, much better than last time.",
        "grades": [{"task": f"task-{place:02d}", **grade} for place in range(GRADES)],
    }


def cutting(size: Sizes) -> Iterator[Figure]:
    """One statement of 20 grades: its text, its leaf, its signature, whether that is right."""
    said = Statement(
        id="00000000-0000-4000-8000-000000000000",
        type="record.sign",
        actor="ben",
        assurance="secret",
        claimed_at="2026-05-20T09:00:00Z",
        tz="Europe/Lisbon",
        nonce="0" * 32,
        subject=ANA,
        body=_body(),
    )
    text, key = said.text(), seed("ben")
    signature, known = keys.sign_statement(key, text), public("ben")
    dumped = plainly(1, lambda: json.dumps(said.body, sort_keys=True), size.many)
    hashed = plainly(1, lambda: hashlib.sha256(text).digest(), size.many)
    jobs: list[tuple[str, Any, Callable[[], object]]] = [
        ("canonical text", dumped, said.text),
        ("leaf", hashed, lambda: leaf_hash(text)),
        ("signature", hashed, lambda: keys.sign_statement(key, text)),
        ("verification", hashed, lambda: keys.verify_statement(known, text, signature)),
    ]
    for name, base, work in jobs:
        yield base.figure(name, work, size.many)


def judging(size: Sizes) -> Iterator[Figure]:
    """The portable record of one student, judged as `windtee verify FILE` does."""
    ledger = opened()
    first = len(ledger.entries) + 1
    for number in range(size.record):
        ledger.sign(f"L{number}", **_body())
    about = list(range(first, first + size.record))
    data = written(fields_of(ledger, about, list(range(1, first)), about, set()))
    assert verify_bundle(data, None).code == 0
    base = plainly(size.record, lambda: json.loads(data), 3 * size.few)
    name = f"judge a record of {size.record} lessons"
    yield base.figure(name, lambda: verify_bundle(data, None), 3 * size.few)
