"""The catalogue of errors students make in a task, and how grave each one is."""

from dataclasses import dataclass
from enum import StrEnum

from syllabus.saying import say


class Severity(StrEnum):
    """How grave an error is; the value is the word people read."""

    SAFETY_CRITICAL = "safety-critical"
    PROCEDURAL = "procedural"
    TECHNIQUE = "technique"


@dataclass(frozen=True, slots=True)
class ErrorType:
    """One catalogued error of one task. `code` is unique in the course."""

    code: str
    words: str
    severity: Severity


OMITTED = ErrorType("flow-omitted", say("Checklist item left out"), Severity.PROCEDURAL)
OMITTED_CRITICAL = ErrorType(
    "flow-omitted-critical", say("Critical checklist item left out"), Severity.SAFETY_CRITICAL
)
SWAPPED = ErrorType("flow-swapped", say("Checklist item out of order"), Severity.PROCEDURAL)
SWAPPED_CRITICAL = ErrorType(
    "flow-swapped-critical",
    say("Critical checklist item out of order"),
    Severity.SAFETY_CRITICAL,
)
OUT_OF_LIMIT = ErrorType(
    "reading-out-of-limit", say("Reading outside its limit accepted"), Severity.PROCEDURAL
)

GENERIC = {
    error.code: error
    for error in (OMITTED, OMITTED_CRITICAL, SWAPPED, SWAPPED_CRITICAL, OUT_OF_LIMIT)
}
"""Errors any task can show, used where a checklist or limit names none of its own."""
