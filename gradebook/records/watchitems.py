"""Errors that recur in one student: when a watch item opens, and what closes it. Pure.

An *opportunity* for an error is a lesson in which its task was graded (counted) or marked with
any error; however often it is marked in one lesson, that is one mark.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from math import comb, log
from types import MappingProxyType

from gradebook.records.values import CloseDecision, History, LessonFact, in_order
from syllabus.errors import Severity
from syllabus.saying import capital, joined, say


@dataclass(frozen=True, slots=True)
class WatchRules:
    """When items open and close.

    Procedural and technique errors open at `marks` of the last `opportunities`. Every item's
    evidence is a run of clean opportunities whose upper bound on the error's rate, at
    `confidence`, lies below `target`.
    """

    marks: int = 3
    opportunities: int = 5
    target: float = 0.30
    confidence: float = 0.95

    @property
    def needed_clean(self) -> int:
        """Clean opportunities in a row that close an item."""
        return clean_needed(self.target, self.confidence)


@dataclass(frozen=True, slots=True)
class WatchItem:
    """One error of one task under watch, open while `closed_on` is None.

    `marks` of `opportunities` are counted from the lessons that opened it until it closed, or
    until now. `decided_on`: the day of an instructor's decision made since the last mark.
    """

    task: str
    error: str
    severity: Severity
    opened_on: date
    opened_by_record: str
    why_opened: str
    closed_on: date | None
    why_closed: str
    clean_opportunities: int
    needed_clean: int
    marks: int
    opportunities: int
    decided_on: date | None = None

    @property
    def is_open(self) -> bool:
        """Whether it is still watched."""
        return self.closed_on is None

    @property
    def has_evidence(self) -> bool:
        """Whether enough clean opportunities in a row are there."""
        return self.clean_opportunities >= self.needed_clean

    @property
    def is_critical(self) -> bool:
        """Whether it is about a safety-critical error."""
        return self.severity is Severity.SAFETY_CRITICAL


@dataclass(frozen=True, slots=True)
class Opportunity:
    """One lesson in which a task could go wrong; `severity` is None where it did not."""

    fact: LessonFact
    severity: Severity | None


Chance = tuple[LessonFact, Mapping[str, Severity]]
"""A lesson in which a task could go wrong, and the errors marked in it then."""

CLEAN: Mapping[str, Severity] = MappingProxyType({})


@lru_cache
def clean_needed(target: float, confidence: float = 0.95) -> int:
    """Fewest clean opportunities in a row that put the upper bound of the rate below target.

    After n clean the bound is 1 - (1 - confidence)^(1/n): 9 for .30, 14 for .20, 29 for .10.
    ValueError unless both lie between 0 and 1.
    """
    if not (0 < target < 1 and 0 < confidence < 1):
        raise ValueError("Target and confidence lie between 0 and 1.")
    n = max(1, int(log(1 - confidence) / log(1 - target)) - 1)
    while 1 - (1 - confidence) ** (1 / n) >= target:
        n += 1
    return n


def false_alarm(k: int, n: int, p: float) -> float:
    """Chance of k or more marks in n opportunities when the true rate is p (binomial tail)."""
    return sum(comb(n, marks) * p**marks * (1 - p) ** (n - marks) for marks in range(k, n + 1))


def chances(history: History) -> dict[str, list[Chance]]:
    """By task, oldest first: the lessons it was an opportunity in, and the errors marked."""
    found: dict[str, list[Chance]] = {}
    for fact in in_order(history):
        marks: dict[str, dict[str, Severity]] = {}
        for mark in fact.errors:
            marks.setdefault(mark.task, {})[mark.error] = mark.severity
        graded = dict.fromkeys([one.task for one in fact.grades if one.rank is not None])
        for task in (*graded, *(task for task in marks if task not in graded)):
            found.setdefault(task, []).append((fact, marks.get(task, CLEAN)))
    return found


def watch_items(
    history: History,
    decisions: Iterable[CloseDecision],
    rules: WatchRules = WatchRules(),
) -> tuple[WatchItem, ...]:
    """Every watch item there was or is, by the day it opened.

    A safety-critical error opens one at its first mark; it closes when clean opportunities
    *and* an instructor's decision are both there, in either order, both since the last mark.
    Any other opens by the rules' k of n, and closes by evidence or decision, whichever comes
    first. A mark after that opens a new item when the same rule holds again. A decision stands
    after all the lessons of its day.
    """
    decided: dict[tuple[str, str], list[CloseDecision]] = {}
    for decision in sorted(decisions, key=lambda one: one.decided_on):
        decided.setdefault((decision.task, decision.error), []).append(decision)
    items: list[WatchItem] = []
    for task, lessons in chances(history).items():
        made: dict[str, list[Severity]] = {}
        for error, severity in (mark for _, marked in lessons for mark in marked.items()):
            made.setdefault(error, []).append(severity)
        for error, severities in made.items():
            if len(severities) < rules.marks and Severity.SAFETY_CRITICAL not in severities:
                continue  # too few marks in all for an item ever to open
            watch = _Watch(task, error, rules)
            seen = [Opportunity(fact, marked.get(error)) for fact, marked in lessons]
            watch.follow(seen, decided.get((task, error), []))
            items.extend(watch.items)
    return tuple(sorted(items, key=lambda item: item.opened_on))


@dataclass
class _Watch:
    """One error followed through a history; the item now open is the last of `items`."""

    task: str
    error: str
    rules: WatchRules
    seen: list[Opportunity] = field(default_factory=list)
    items: list[WatchItem] = field(default_factory=list)
    reason: str = ""

    @property
    def item(self) -> WatchItem | None:
        """The item now open, if any."""
        return self.items[-1] if self.items and self.items[-1].is_open else None

    def follow(self, seen: list[Opportunity], decisions: list[CloseDecision]) -> None:
        """Take in opportunities and decisions, a decision after all lessons of its day."""
        waiting = list(decisions)
        for chance in seen:
            while waiting and waiting[0].decided_on < chance.fact.flown_on:
                self.decide(waiting.pop(0))
            self.see(chance)
        for decision in waiting:
            self.decide(decision)

    def see(self, chance: Opportunity) -> None:
        """Take in one more opportunity."""
        self.seen.append(chance)
        item, marked = self.item, chance.severity is not None
        if item is None:
            self._open(chance)
            return
        critical = item.is_critical or chance.severity is Severity.SAFETY_CRITICAL
        self.items[-1] = replace(
            item,
            severity=Severity.SAFETY_CRITICAL if critical else item.severity,
            clean_opportunities=0 if marked else item.clean_opportunities + 1,
            marks=item.marks + marked,
            opportunities=item.opportunities + 1,
            decided_on=None if marked else item.decided_on,
        )
        self._settle(chance.fact.flown_on)

    def decide(self, decision: CloseDecision) -> None:
        """Take in an instructor's decision; it says nothing while no item is open."""
        if self.item is not None:
            self.reason = decision.reason
            self.items[-1] = replace(self.item, decided_on=decision.decided_on)
            self._settle(decision.decided_on)

    def _open(self, chance: Opportunity) -> None:
        if chance.severity is None:
            return
        critical = chance.severity is Severity.SAFETY_CRITICAL
        window = [chance] if critical else self.seen[-self.rules.opportunities :]
        marks = sum(one.severity is not None for one in window)
        if not critical and marks < self.rules.marks:
            return
        recurring = say(
            "Marked in {marks} of the last {n} opportunities", marks=marks, n=len(window)
        )
        why = say("A safety-critical error was marked") if critical else recurring
        self.items.append(
            WatchItem(
                self.task,
                self.error,
                chance.severity,
                opened_on=chance.fact.flown_on,
                opened_by_record=chance.fact.record_id,
                why_opened=why,
                closed_on=None,
                why_closed="",
                clean_opportunities=0,
                needed_clean=self.rules.needed_clean,
                marks=marks,
                opportunities=len(window),
            )
        )

    def _settle(self, on: date) -> None:
        """Close the open item when what it needs is there."""
        item = self.items[-1]
        evidence, decision = item.has_evidence, item.decided_on is not None
        if not (evidence and decision if item.is_critical else evidence or decision):
            return
        clean = ""
        if evidence:
            clean = say("{clean} clean lessons in a row", clean=item.clean_opportunities)
        decided = (
            say("decided by an instructor: {reason}", reason=self.reason) if decision else ""
        )
        why = capital(joined("; ", (part for part in (clean, decided) if part)))
        self.items[-1] = replace(item, closed_on=on, why_closed=why)
