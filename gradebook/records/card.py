"""The grading card: what an instructor has entered so far, exactly as typed.

A card is kept whole, readable or not, so that nothing typed is lost; `rules.check_card` says
what still stands in the way of signing.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class Entry:
    """One task on the card. `together` marks a grade set for many tasks at once."""

    task: str
    level: str = ""
    remark: str = ""
    errors: tuple[str, ...] = ()
    together: bool = False


@dataclass(frozen=True, slots=True)
class FlowStep:
    """One checklist item as performed: `done`, `prompted` or `skipped`."""

    item: str
    how: str = "done"


@dataclass(frozen=True, slots=True)
class Card:
    """Everything on one grading card. Text fields hold what was typed."""

    flown_on: str = ""
    aircraft: str = ""
    ident: str = ""
    entries: tuple[Entry, ...] = ()
    readings: Mapping[str, str] = field(default_factory=dict)
    steps: tuple[FlowStep, ...] = ()
    times: Mapping[str, str] = field(default_factory=dict)
    remarks: str = ""
    outcome: str = ""
    next_lesson: str = ""

    def entry(self, task: str) -> Entry:
        """The entry of a task; an empty one when it has not been touched."""
        return next((entry for entry in self.entries if entry.task == task), Entry(task))

    def with_steps(self, *steps: FlowStep) -> "Card":
        """The same card with another flow run."""
        return replace(self, steps=steps)

    def as_json(self) -> dict[str, Any]:
        """Plain values for storage."""
        return asdict(self)


def card_from_json(stored: Mapping[str, Any]) -> Card:
    """The card that `as_json` stored."""
    plain = dict(stored)
    entries = tuple(
        Entry(**{**entry, "errors": tuple(entry["errors"])}) for entry in plain.pop("entries", ())
    )
    steps = tuple(FlowStep(**step) for step in plain.pop("steps", ()))
    return Card(entries=entries, steps=steps, **plain)


@dataclass(frozen=True, slots=True)
class Difference:
    """One field in which two cards differ, in words."""

    where: str
    mine: str
    theirs: str


def card_differences(mine: Card, theirs: Card, titles: Mapping[str, str]) -> list[Difference]:
    """Where two versions of a card differ; `titles` gives the words of each task code."""
    found = []
    for task in dict.fromkeys(entry.task for entry in (*mine.entries, *theirs.entries)):
        one, other = mine.entry(task), theirs.entry(task)
        for name in ("level", "remark", "errors"):
            if getattr(one, name) != getattr(other, name):
                where = f"{titles.get(task, task)}: {name}"
                found.append(Difference(where, _text(getattr(one, name)), _text(getattr(other, name))))
    for name in ("flown_on", "aircraft", "ident", "remarks", "outcome", "next_lesson"):
        if getattr(mine, name) != getattr(theirs, name):
            where = name.replace("_", " ").capitalize()
            found.append(Difference(where, getattr(mine, name), getattr(theirs, name)))
    for name in ("readings", "times"):
        one, other = getattr(mine, name), getattr(theirs, name)
        for key in dict.fromkeys((*one, *other)):
            if one.get(key, "") != other.get(key, ""):
                where = key.replace("-", " ").replace("_", " ").capitalize()
                found.append(Difference(where, one.get(key, ""), other.get(key, "")))
    return found


def _text(value: str | tuple[str, ...]) -> str:
    return value if isinstance(value, str) else ", ".join(value)
