"""What the fields of a JSON object may be."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from gradebook.ledger.canonical import LARGEST, MalformedError

Check = Callable[[Any], bool]


def text_like(pattern: str) -> Check:
    """A text all of which matches; a dot stands for line ends too."""
    shape = re.compile(pattern, re.ASCII | re.DOTALL)
    return lambda value: isinstance(value, str) and shape.fullmatch(value) is not None


def hexadecimal(digits: int) -> Check:
    """So many digits, the letters small."""
    return text_like(f"[0-9a-f]{{{digits}}}")


def or_none(check: Check) -> Check:
    """That, or null."""
    return lambda value: value is None or check(value)


def list_of(check: Check) -> Check:
    """A list of any length, each item so."""
    return lambda value: isinstance(value, list) and all(map(check, value))


def whole(least: int, most: int = LARGEST) -> Check:
    """A whole number between the two; true and false are none."""
    return lambda value: type(value) is int and least <= value <= most


def is_text(value: object) -> bool:
    """Any text."""
    return isinstance(value, str)


def is_object(value: object) -> bool:
    """Any object."""
    return isinstance(value, dict)


SOME = text_like(".{1,200}")
MOMENT = text_like(
    r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"
    r"T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,6})?Z"
)
UUID = text_like("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


def fitting(value: object, checks: Mapping[str, Check], what: str) -> dict[str, Any]:
    """The object, if it has exactly these fields and each passes; else MalformedError."""
    if not isinstance(value, dict) or value.keys() != checks.keys():
        raise MalformedError(f"not the fields of {what}")
    wrong = [name for name, check in checks.items() if not check(value[name])]
    if wrong:
        raise MalformedError(f"{what}: {', '.join(wrong)} cannot be so")
    return value
