"""What can stop an act. Each becomes one kind of answer; nothing is then written."""

from dataclasses import dataclass

from syllabus.saying import joined, say


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, and at which field (empty: the whole form)."""

    field: str
    words: str


LONGEST_REASON = 2000


def overlong(reason: str) -> list[Problem]:
    """What is wrong with a reason of too many characters; nothing is cut off unseen."""
    if len(reason) <= LONGEST_REASON:
        return []
    words = say(
        "Keep the reason under {longest_reason} characters.", longest_reason=LONGEST_REASON
    )
    return [Problem("reason", words)]


class RecordsError(Exception):
    """Base of the faults an act can meet."""

    @property
    def words(self) -> str:
        """What to tell whoever met it; empty when the kind of fault says it all."""
        return self.args[0] if self.args else ""


class UnknownError(RecordsError):
    """No such object, or not one this person may know of."""


class ForbiddenError(RecordsError):
    """The person may see the object but not do this to it."""


class PhoneError(ForbiddenError):
    """A phone's key cannot sign for this person; `reason` is a word for programs."""

    def __init__(self, reason: str, words: str) -> None:
        super().__init__(words)
        self.reason = reason


class ConflictError(RecordsError):
    """The object is no longer in the state the act was meant for."""


class StaleError(ConflictError):
    """Somebody, or another tab, has saved a later version."""


class ChangedError(ConflictError):
    """What somebody signed elsewhere is not what would be signed now; `problems` say why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(
            say("What you signed has changed meanwhile: review it and sign it again.")
        )
        self.problems = problems


class GoneError(RecordsError):
    """The object served its purpose, or its time is over."""


class SlowDownError(RecordsError):
    """Too much in too short a time; nothing was done, and in `seconds` it can be."""

    def __init__(self, words: str, seconds: int = 10) -> None:
        super().__init__(words)
        self.seconds = seconds


class InvalidError(RecordsError):
    """What was entered cannot stand; `problems` say what and where."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(joined("; ", (problem.words for problem in problems)))
        self.problems = problems


class ReusedError(RecordsError):
    """A key that marks one request was used for another."""


class TornError(RecordsError):
    """The ledger does not contain what a checkpoint says it held; nothing more is signed."""


class BusyError(RecordsError):
    """The database cannot take the act now; the same act may go through in a moment."""


class DiskError(BusyError):
    """The disk refused to keep what it was given."""


class FullError(RecordsError):
    """There is no room left to store the act."""
