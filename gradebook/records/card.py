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
        Entry(**{**entry, "errors": tuple(entry["errors"])})
        for entry in plain.pop("entries", ())
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
    one, other = _lines(mine, titles), _lines(theirs, titles)
    for where in dict.fromkeys((*one, *other)):
        if one.get(where, "") != other.get(where, ""):
            found.append(Difference(where, one.get(where, ""), other.get(where, "")))
    return found


def _lines(card: Card, titles: Mapping[str, str]) -> dict[str, str]:
    """Everything on a card as words by place, empty places left out."""
    lines = {
        name: getattr(card, name)
        for name in ("flown_on", "aircraft", "ident", "outcome", "next_lesson", "remarks")
    }
    for entry in card.entries:
        title = titles.get(entry.task, entry.task)
        lines[f"{title}: grade"] = entry.level
        lines[f"{title}: errors"] = ", ".join(entry.errors)
        lines[f"{title}: remark"] = entry.remark
    lines |= {**card.readings, **card.times}
    lines["flow run"] = ", ".join(f"{step.item} {step.how}" for step in card.steps)
    return {
        where.replace("_", " ").replace("-", " ").capitalize(): words
        for where, words in lines.items()
        if words
    }
