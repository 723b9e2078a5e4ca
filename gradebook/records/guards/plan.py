"""What the database itself refuses, table by table.

A guard stops slips and injected SQL. It does not stop whoever owns the database: the ledger's
checkpoints, kept elsewhere, show what such a person did.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum


class Next(Enum):
    """Which number the next row of a growing table must carry."""

    FOLLOWS = "follows"
    """The newest plus one, said by the program."""
    GROWS = "grows"
    """Anything above the newest."""
    DRAWN = "drawn"
    """The number the database draws: no gap on SQLite, the sequence's next on PostgreSQL."""


@dataclass(frozen=True, slots=True)
class Growth:
    """Rows are added at the end only, counted by `column`.

    With `link`, the first of the two columns repeats the second of the row before.
    """

    column: str
    next: Next
    link: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Guard:
    """The guard of one table: rows stay, and but for the columns named they stay as they are.

    `keys` are the columns with unique values: no insert may put a row in the place of another.
    `free`, a condition on OLD, says which rows are not yet bound (drafts); `never`, on OLD and
    NEW, which changes are refused although the column may change.
    """

    table: str
    keys: tuple[str, ...] = ("id",)
    growth: Growth | None = None
    may_change: tuple[str, ...] = ()
    free: str = ""
    never: str = ""


_SEEN = ("acknowledged_at", "agrees", "comment")
_UNSEEN = " OR ".join(
    f"(OLD.{name} <> NEW.{name} OR (OLD.{name} IS NULL) <> (NEW.{name} IS NULL))"
    for name in _SEEN
)
_BACKWARDS = (
    "(OLD.state = 'superseded' AND NEW.state <> 'superseded')"
    " OR (OLD.state = 'void' AND NEW.state <> 'void')"
    " OR (OLD.state = 'acknowledged' AND NEW.state NOT IN"
    " ('acknowledged', 'superseded', 'void'))"
    " OR (OLD.state = 'signed' AND NEW.state = 'draft')"
    " OR (OLD.voided_at IS NOT NULL AND OLD.void_reason <> NEW.void_reason)"
)

GUARDS: tuple[Guard, ...] = (
    Guard(
        "ledger_entry",
        keys=("seq", "statement_id"),
        growth=Growth("seq", Next.FOLLOWS, link=("prev", "leaf")),
    ),
    Guard("ledger_checkpoint", keys=("size",), growth=Growth("size", Next.GROWS)),
    Guard("audit_event", growth=Growth("id", Next.DRAWN)),
    Guard("audit_node", keys=("place", "event_id"), growth=Growth("place", Next.FOLLOWS)),
    Guard("signing_key", may_change=("salt", "cost", "wrapped", "revoked_at")),
    Guard("early_statement", keys=("sequence",)),
    Guard("delivery", free="1 = 1"),  # a delivery may be forgotten, never changed
    Guard("erasure_notice", keys=("digest",)),
    Guard("certified_copy"),
    Guard("foreign_record"),
    Guard("teaching", may_change=("until",)),
    Guard("grade"),
    Guard("error_mark"),
    Guard("reading_taken"),
    Guard("filed_event"),
    Guard("close_decision"),
    Guard("revision"),
    Guard(
        "lesson_record",
        keys=("id", "sequence"),
        may_change=("state", "version", *_SEEN, "voided_at", "void_reason"),
        free="OLD.state = 'draft'",
        never=f"{_BACKWARDS} OR (OLD.acknowledged_at IS NOT NULL AND ({_UNSEEN}))",
    ),
    Guard("role_grant", may_change=("revoked_at",)),
    Guard(
        "stage_approval",
        may_change=(
            *("approved_by", "approved_at", "checker_id", "reason", "snapshot"),
            *("not_independent", "record_id"),
        ),
        never="OLD.record_id IS NOT NULL",
    ),
)

WORDS: Mapping[str, str] = {
    "insert": "rows of {table} are added at the end, in the place of none",
    "update": "rows of {table} are not changed",
    "delete": "rows of {table} are not deleted",
    "truncate": "{table} is not emptied",
}


def words(act: str, table: str) -> str:
    """What a refused statement is told."""
    return f"guard: {WORDS[act].format(table=table)}"


def changed(frozen: str, guard: Guard) -> str:
    """The condition under which an update is refused; empty: always.

    `frozen` says, in the dialect's own words, that a column which may not change does.
    """
    if not guard.may_change:
        return ""
    refused = " OR ".join(f"({part})" for part in (frozen, guard.never) if part)
    return f"NOT ({guard.free}) AND ({refused})" if guard.free else refused


def deleted(guard: Guard) -> str:
    """The condition under which a delete is refused; empty: always."""
    return f"NOT ({guard.free})" if guard.free else ""
