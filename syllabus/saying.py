"""English words that remember how they came about, so that they can be said in any language.

What is written is English everywhere: what is signed, stored, audited and printed for machines
stays so by itself. Only where words leave for a person are they said again in that person's
language (`gradebook.words`). Joining, cutting or formatting a `Said` with anything but the
functions here makes plain English of it.
"""

from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from typing import Protocol


class Tongue(Protocol):
    """A language and its habits."""

    def phrase(self, text: str) -> str:
        """An English text in this language; the text itself where it is not known."""

    def phrase_n(self, one: str, many: str, n: int) -> str:
        """The form of an English text that this language uses for a number."""

    def figure(self, text: str) -> str:
        """A decimal number with this language's decimal sign."""

    def day(self, day: date) -> str:
        """A date as it is written in this language."""

    def clock(self, at: datetime) -> str:
        """The time of day of an aware moment, with its zone."""


class Said(str):
    """English text; `retell` says it in another language."""

    __slots__ = ("retell",)
    retell: Callable[[Tongue], str]

    @classmethod
    def by(cls, english: str, retell: Callable[[Tongue], str]) -> "Said":
        """English text with the way to say it elsewhere."""
        made = cls(english)
        made.retell = retell
        return made


def told(value: object, tongue: Tongue | None = None) -> object:
    """A value to be put into a text: words retold, fractions with the right decimal sign."""
    if tongue is None:
        return value
    if isinstance(value, Said):
        return value.retell(tongue)
    if isinstance(value, float | Decimal):
        return tongue.figure(str(value))
    return tongue.day(value) if isinstance(value, date) else value


def _filled(text: str, values: dict[str, object], tongue: Tongue | None = None) -> str:
    if not values:
        return text
    return text.format(**{name: told(value, tongue) for name, value in values.items()})


def say(text: str, /, **values: object) -> str:
    """Words for people; `{name}` stands for the value of that name. KeyError without one."""
    return Said.by(_filled(text, values), partial(_resaid, text, values))


def _resaid(text: str, values: dict[str, object], tongue: Tongue) -> str:
    return _filled(tongue.phrase(text), values, tongue)


def say_n(one: str, many: str, n: int, /, **values: object) -> str:
    """Words that depend on a number, which stands at `{n}`."""
    all_values: dict[str, object] = {"n": n, **values}
    return Said.by(
        _filled(one if n == 1 else many, all_values),
        partial(_resaid_n, (one, many, n), all_values),
    )


def _resaid_n(text: tuple[str, str, int], values: dict[str, object], tongue: Tongue) -> str:
    return _filled(tongue.phrase_n(*text), values, tongue)


def joined(sign: str, parts: Iterable[str]) -> str:
    """Words one after another with a sign between them."""
    kept = tuple(parts)
    return Said.by(sign.join(kept), partial(_rejoined, sign, kept))


def _rejoined(sign: str, parts: tuple[str, ...], tongue: Tongue) -> str:
    return str(told(sign, tongue)).join(str(told(part, tongue)) for part in parts)


def figure(text: str) -> str:
    """A decimal number, written with a point."""
    return Said.by(text, lambda tongue: tongue.figure(text))


def dated(day: date) -> str:
    """A date: ISO 8601 in English."""
    return Said.by(day.isoformat(), lambda tongue: tongue.day(day))


def capital(text: str) -> str:
    """Words with a capital at their beginning."""
    return Said.by(_capital(text), lambda tongue: _capital(str(told(text, tongue))))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def within(text: str) -> str:
    """Words as they stand within a sentence: without a capital at their beginning."""
    return Said.by(_within(text), lambda tongue: _within(str(told(text, tongue))))


def _within(text: str) -> str:
    return text[:1].lower() + text[1:]
