"""What to work on, in the order of the suggestion for the next lesson. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from gradebook.analytics.needle.outlook import Outlook
from gradebook.analytics.suggestion import STALE, WATCHED, Pick
from gradebook.formats import chance, count, share
from gradebook.records.needle import Needle
from gradebook.records.progress import WeakItem
from syllabus.course import Task
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One task: what is suggested of it (`pick`), what holds it back (`weak`), and why.

    `place` is its place in the suggestion, 1 first; None when it is not suggested.
    """

    task: Task
    outlook: Outlook | None
    place: int | None
    pick: Pick | None
    weak: WeakItem | None
    why: tuple[str, ...]


def worklist(
    needle: Needle, picks: Iterable[Pick], weak: Iterable[WeakItem]
) -> tuple[WorkItem, ...]:
    """The picks in their order, then what else holds the student back, the worst first."""
    held = {item.task: item for item in weak}
    chosen = {pick.task: pick for pick in picks}
    rest = [code for code in held if code not in chosen]
    return tuple(
        _item(needle, code, chosen.get(code), held.get(code), place)
        for place, code in enumerate((*chosen, *rest), start=1)
    )


def _item(
    needle: Needle, code: str, pick: Pick | None, weak: WeakItem | None, place: int
) -> WorkItem:
    outlook = needle.outlooks.get(code)
    reasons = (*((_reason(pick, outlook),) if pick else ()), *(weak.why if weak else ()))
    return WorkItem(
        needle.course.task_by_code[code],
        outlook,
        place if pick else None,
        pick,
        weak,
        why=tuple(words for words in reasons if words),
    )


def _reason(pick: Pick, outlook: Outlook | None) -> str:
    before, after = chance(pick.before), chance(pick.after)
    lift = say("from {before} to {after}", before=before, after=after)
    if pick.why == WATCHED and before == after:
        return say("It has an open watch item, so it comes first.")
    if pick.why == WATCHED:
        return say(
            "It has an open watch item, so it comes first."
            " One more attempt would raise this chance {lift}.",
            lift=lift,
        )
    if pick.why == STALE and outlook is not None and outlook.idle is not None:
        left = share(outlook.retention)
        idle = count(outlook.idle, "day")
        return say(
            "Not flown for {idle}: about {left} of what practice brought is left.",
            idle=idle,
            left=left,
        )
    if before == after:
        return ""
    return say("One more attempt would raise this chance {lift}.", lift=lift)
