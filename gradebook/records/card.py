"""The grading card: what an instructor has entered so far, exactly as typed.

A card is kept whole, readable or not, so that nothing typed is lost; `rules.check_card` says
what still stands in the way of signing.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from gradebook.records.timesheet import LINES
from syllabus.course import Task
from syllabus.saying import joined, say

SHEET = {line.field: line.words for line in LINES}


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


def card_differences(mine: Card, theirs: Card, tasks: Mapping[str, Task]) -> list[Difference]:
    """Where two versions of a card differ; `tasks` are the course's by code."""
    found = []
    one, other = _lines(mine, tasks), _lines(theirs, tasks)
    for where in dict.fromkeys((*one, *other)):
        if one.get(where, "") != other.get(where, ""):
            found.append(Difference(where, one.get(where, ""), other.get(where, "")))
    return found


def _lines(card: Card, tasks: Mapping[str, Task]) -> dict[str, str]:
    """Everything on a card as words by place, empty places left out."""
    lines = {
        say("Date"): card.flown_on,
        say("Aircraft type"): card.aircraft,
        say("Registration"): card.ident,
        say("Outcome"): say(card.outcome) if card.outcome else "",
        say("Next lesson"): card.next_lesson,
        say("Remarks"): card.remarks,
    }
    for entry in card.entries:
        title = tasks[entry.task].title if entry.task in tasks else entry.task
        lines[say("{task}: grade", task=title)] = entry.level
        lines[say("{task}: errors", task=title)] = ", ".join(entry.errors)
        lines[say("{task}: remark", task=title)] = entry.remark
    lines |= {code.replace("-", " ").capitalize(): read for code, read in card.readings.items()}
    lines |= {SHEET.get(name, name): typed for name, typed in card.times.items()}
    steps = (joined(" ", (step.item, say(step.how))) for step in card.steps)
    lines[say("Flow run")] = joined(", ", steps)
    return {where: words for where, words in lines.items() if words}
