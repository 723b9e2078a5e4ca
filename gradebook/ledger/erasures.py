"""What was erased from a ledger, by which entry, and whether two people asked for it.

An erased entry keeps its number, hash, signature and place in the tree; the text of its
statement is gone. It counts as erased only by a statement `record.erase` of the school's key
that lists it with its hash and names two statements of two people: one asked for just that, the
other confirmed it. A text that is gone without such a statement is altered.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from gradebook.ledger import keys
from gradebook.ledger.canonical import MalformedError, canonical, sha256_hex
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement

ASK, CONFIRM, ERASE = "erasure.ask", "erasure.confirm", "record.erase"
WITHDRAW = "erasure.withdraw"
NOTICE = "windtee-erasure/1"

Listed = tuple[int, str]
"""An entry's number and the SHA-256 of its statement."""


def covers(entries: Iterable[Listed]) -> str:
    """The SHA-256 of just these entries: what two people put their names to."""
    return sha256_hex(canonical([[seq, digest] for seq, digest in sorted(entries)]))


@dataclass(frozen=True, slots=True)
class Erasure:
    """One erasure as its statement tells it.

    `seq` is the number of its entry, `at` its moment, `entries` what is gone, `events` of the
    audit trail likewise (id and leaf), `rows` how many rows of each table, `account` whether
    the student's account is gone too.
    """

    seq: int
    name: str
    at: str
    asked: int
    confirmed: int
    account: bool
    early: bool
    entries: tuple[Listed, ...]
    events: tuple[Listed, ...]
    rows: Mapping[str, int]


def read_erasure(entry: Entry, statement: Statement) -> Erasure:
    """The erasure that a statement tells; MalformedError when it tells none."""
    body: Mapping[str, Any] = statement.body
    try:
        return Erasure(
            seq=entry.seq,
            name=str(body["erasure"]),
            at=statement.claimed_at,
            asked=int(body["asked"]),
            confirmed=int(body["confirmed"]),
            account=bool(body["account"]),
            early=bool(body["early"]),
            entries=_listed(body["entries"]),
            events=_listed(body["events"]),
            rows={str(name): int(number) for name, number in body["rows"].items()},
        )
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise MalformedError("this statement does not say what was erased") from fault


def _listed(said: Iterable[tuple[object, object]]) -> tuple[Listed, ...]:
    return tuple((int(str(number)), str(digest)) for number, digest in said)


@dataclass(frozen=True, slots=True)
class Wish:
    """One person's word: they asked for, or confirmed, the erasure of what `covers` says."""

    kind: str
    actor: str
    name: str
    covers: str


@dataclass(slots=True)
class Erasures:
    """What a reader has met so far: people's words, erasures, and entries without a text."""

    wishes: dict[int, Wish] = field(default_factory=dict)
    blank: dict[int, str] = field(default_factory=dict)
    """Entries without a text: number and the SHA-256 the entry holds."""
    by: dict[int, Erasure] = field(default_factory=dict)
    """Entries that were erased, each with its erasure."""
    events: dict[Listed, Erasure] = field(default_factory=dict)
    """Audit events whose words were erased, by id and leaf."""

    def take(
        self, entry: Entry, statement: Statement, *, by_school: bool
    ) -> Iterator[tuple[int, str]]:
        """Learn from a sound statement; (number, words) of what does not hold.

        `by_school` says that the school's own key signed it.
        """
        if statement.type in (ASK, CONFIRM) and not by_school:
            name, said = (str(statement.body.get(one)) for one in ("erasure", "covers"))
            self.wishes[entry.seq] = Wish(statement.type, statement.actor, name, said)
        if statement.type == WITHDRAW:
            gone = str(statement.body.get("erasure"))
            kept = ((seq, one) for seq, one in self.wishes.items() if one.name != gone)
            self.wishes = dict(kept)
        if statement.type != ERASE:
            return
        try:
            erasure = read_erasure(entry, statement)
        except MalformedError as fault:
            yield entry.seq, f"Entry {entry.seq}: {fault}."
            return
        if by_school and self._by_two(erasure):
            yield from self.accept(erasure)
        else:
            yield entry.seq, f"Entry {entry.seq}: no two people asked for what it erases."

    def _by_two(self, erasure: Erasure) -> bool:
        asked, confirmed = (self.wishes.get(seq) for seq in (erasure.asked, erasure.confirmed))
        return (
            asked is not None
            and confirmed is not None
            and (asked.kind, confirmed.kind) == (ASK, CONFIRM)
            and asked.actor != confirmed.actor
            and {asked.name, confirmed.name} == {erasure.name}
            and {asked.covers, confirmed.covers} == {covers(erasure.entries)}
        )

    def accept(self, erasure: Erasure) -> Iterator[tuple[int, str]]:
        """Take an erasure for granted; (number, words) where its entries are not as it says."""
        self.events |= dict.fromkeys(erasure.events, erasure)
        for seq, digest in erasure.entries:
            self.by[seq] = erasure
            if seq not in self.blank:
                yield seq, f"Entry {seq}: erased by entry {erasure.seq}, yet its text is here."
            elif self.blank[seq] != digest:
                yield seq, f"Entry {seq}: it is not the one that entry {erasure.seq} erased."

    def accept_notice(self, erasure: Erasure) -> None:
        """Let a notice kept outside explain what is blank here; it may know more than we do."""
        self.events |= dict.fromkeys(erasure.events, erasure)
        said = dict(erasure.entries)
        for seq, digest in self.blank.items():
            if said.get(seq) == digest:
                self.by[seq] = erasure

    def unexplained(self) -> Iterator[tuple[int, str]]:
        """Entries whose text is gone though nobody erased it."""
        for seq in self.blank:
            if seq not in self.by:
                yield seq, f"Entry {seq}: its statement is gone, and no entry erased it."


def notice_of(entry: str, statement: str) -> bytes:
    """An erasure to be kept outside the database, from the two texts of its entry."""
    return canonical({"format": NOTICE, "entry": entry, "statement": statement})


def read_notice(data: str | bytes, school: Iterable[bytes]) -> tuple[Erasure, str, str]:
    """The erasure in a notice, and the two texts of its entry.

    MalformedError unless one of the school's public keys signed it.
    """
    try:
        found = json.loads(data)
        if not isinstance(found, dict) or found.get("format") != NOTICE:
            raise MalformedError("this is no notice of an erasure")
        entry_text, text = str(found["entry"]), str(found["statement"])
    except (ValueError, KeyError) as fault:
        raise MalformedError("this notice of an erasure cannot be read") from fault
    entry, statement = read_entry(entry_text), read_statement(text)
    sound = sha256_hex(text.encode()) == entry.stmt_sha256 and any(
        keys.kid(public) == entry.kid
        and keys.verify_statement(public, text.encode(), bytes.fromhex(entry.sig))
        for public in school
    )
    if not sound or statement.type != ERASE:
        raise MalformedError("this notice of an erasure is not signed by the school")
    return read_erasure(entry, statement), entry_text, text
