"""How somebody wants to read: their language, and how dates and hours are written."""

from dataclasses import dataclass

from gradebook import words
from gradebook.records.act import Act
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.records.store import people
from syllabus.saying import say

HOURS = ("decimal", "clock")


@dataclass(frozen=True, slots=True)
class Reading:
    """What somebody chose; an empty language or hours: as the browser or the school says."""

    language: str
    dates: str
    hours_style: str


def choose(act: Act, chosen: Reading) -> None:
    """Keep what the actor chose; InvalidError for what there is none of."""
    offered = {
        "language": (chosen.language, ("", *words.LANGUAGES)),
        "dates": (chosen.dates, words.DATES),
        "hours_style": (chosen.hours_style, ("", *HOURS)),
    }
    wrong = [
        Problem(field, say("Choose one of those shown."))
        for field, (wanted, there) in offered.items()
        if wanted not in there
    ]
    if wrong:
        raise InvalidError(*wrong)
    person = people.person(act.session, act.actor.person_id)
    person.language, person.dates = chosen.language, chosen.dates
    person.hours_style = chosen.hours_style
    act.note(Action.ACCOUNT_KEEP, person.id, None, language=chosen.language or "automatic")
