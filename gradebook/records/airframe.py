"""The aircraft of a lesson record, kept as one text: the code of its type, its registration."""

from syllabus.course import Course


def written(code: str, ident: str) -> str | None:
    """The text that is kept; None where there was no aircraft."""
    return f"{code} {ident.strip()}".strip() or None


def type_of(kept: str | None) -> str:
    """The code of the type; empty where there was no aircraft."""
    return (kept or "").partition(" ")[0]


def told(kept: str | None, course: Course) -> str:
    """The type by its name where the course has it, and the registration."""
    code, _, ident = (kept or "").partition(" ")
    kind = course.aircraft_type(code)
    return f"{kind.name} {ident}".strip() if kind else kept or ""
