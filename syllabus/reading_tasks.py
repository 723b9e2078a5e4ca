"""Reading `scales.toml` and `tasks/*.toml`."""

import re
from collections.abc import Mapping, Sequence

from syllabus.course import Element, Phase, Task
from syllabus.element_codes import ARCHIVED
from syllabus.entries import UNITS, Entry, Placed, unique, unknown
from syllabus.errors import GENERIC, ErrorType, Severity
from syllabus.scales import NOT_COUNTED_WORDS, PUBLIC, GradeScale, Level
from syllabus.standards import CompletionStandard, Criterion

_SCALE = re.compile(r"[A-Za-z0-9]+(-[A-Za-z0-9]+)*")
_ERROR = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*|[A-Z]{2,3}-[0-9]{2}")
_ELEMENT = re.compile(r"[A-Za-z0-9]+([.-][A-Za-z0-9]+)*")
_NO_SCALE = GradeScale("", "", (), "", "")
_SEVERITIES = [severity.value for severity in Severity]
_PHASES = [phase.value for phase in Phase]


def read_scales(entries: Sequence[Entry]) -> dict[str, GradeScale]:
    """The public scales and the school's own, by code."""
    own = [(_scale(entry), entry) for entry in entries]
    unique([(scale.code, entry) for scale, entry in own], "scale")
    for scale, entry in own:
        if scale.code in PUBLIC:
            entry.fault(f"`{scale.code}` is a public scale: choose another code.", "code")
    return {**PUBLIC, **{scale.code: scale for scale, _ in own if scale.code not in PUBLIC}}


def _scale(entry: Entry) -> GradeScale:
    entry.only("code", "title", "standard", "source", "levels")
    listed = entry.entries("levels", needed=True)
    levels = tuple(_level(one, place) for place, one in enumerate(listed, start=1))
    unique([(level.code, one) for level, one in zip(levels, listed, strict=True)], "level")
    if len(levels) == 1:
        entry.fault("A scale needs at least two levels, the lowest first.", "levels")
    codes = [level.code for level in levels]
    standard = entry.text("standard")
    if standard and standard not in codes:
        entry.fault(unknown(standard, "level", codes), "standard")
    code = entry.code(pattern=_SCALE, of="words and digits joined by hyphens")
    return GradeScale(code, entry.text("title"), levels, standard, entry.text("source"))


def _level(entry: Entry, place: int) -> Level:
    entry.only("code", "words", "meaning")
    code = entry.code()
    if code in NOT_COUNTED_WORDS:
        entry.fault(f"`{code}` says that nothing was graded: it cannot be a level.", "code")
    return Level(code, entry.text("words"), place, entry.text("meaning"))


def read_tasks(
    entries: Sequence[Entry], scales: Mapping[str, GradeScale], default: str
) -> tuple[Placed[Task], ...]:
    """Every task, on its own scale or the course's default."""
    tasks = tuple(Placed(_task(entry, scales, default), entry) for entry in entries)
    unique([(task.value.code, task.at) for task in tasks], "task")
    unique(
        [
            (str(error.values.get("code", "")), error)
            for entry in entries
            for error in entry.entries("errors")
        ],
        "error",
    )
    return tasks


def _task(entry: Entry, scales: Mapping[str, GradeScale], default: str) -> Task:
    entry.only(
        "code", "title", "phase", "scale", "words", "source", "references", "elements",
        "criteria", "errors",
    )  # fmt: skip
    named = entry.spare_text("scale")
    criteria = entry.entries("criteria")
    elements = entry.entries("elements")
    for placed, kind in ((criteria, "criterion"), (elements, "element")):
        unique([(str(one.values.get("code", "")), one) for one in placed], kind)
    phase = entry.choice("phase", _PHASES)
    return Task(
        code=entry.code(),
        title=entry.text("title"),
        phase=Phase(phase) if phase else Phase.GROUND,
        scale=scales.get(named or default, _NO_SCALE),
        standard=CompletionStandard(
            entry.text("words"), tuple(map(_criterion, criteria)), entry.text("source")
        ),
        elements=tuple(map(_element, elements)),
        errors=tuple(map(_error, entry.entries("errors"))),
        references=entry.texts("references"),
    )


def _criterion(entry: Entry) -> Criterion:
    entry.only("code", "quantity", "at_least", "at_most", "above", "below", "unit", "source")
    if not entry.bounded():
        entry.fault("This criterion has no limit: add at_least, at_most, above or below.")
    return Criterion(
        entry.code(),
        entry.text("quantity"),
        entry.bounds(),
        entry.choice("unit", UNITS),
        entry.text("source"),
    )


def _element(entry: Entry) -> Element:
    entry.only("code", "words")
    code = entry.code(pattern=_ELEMENT, of="words and digits joined by hyphens or points")
    if code in ARCHIVED:
        entry.fault(
            f"`{code}` is archived in its standard: nothing new is graded on it.", "code"
        )
    return Element(code, entry.text("words"))


def _error(entry: Entry) -> ErrorType:
    entry.only("code", "words", "severity")
    shape = "lower-case words joined by hyphens, or letters and a number such as RU-04"
    code = entry.code(pattern=_ERROR, of=shape)
    if code in GENERIC:
        entry.fault(f"`{code}` is an error every task has: choose another code.", "code")
    severity = entry.choice("severity", _SEVERITIES)
    graver = Severity(severity) if severity else Severity.PROCEDURAL
    return ErrorType(code, entry.text("words"), graver)
