"""A table of a course file with its place, read field by field without ever giving up.

Every getter returns something usable and notes a fault when the field is not what it should
be, so that one reading finds everything that is wrong.
"""

import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from syllabus.faults import Fault, nearest
from syllabus.locate import Lines, Path
from syllabus.standards import Bounds

CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
LONGEST_CODE = 40
BOUNDS = ("at_least", "at_most", "above", "below")
UNITS = (
    "ft", "m", "kt", "deg", "nm", "min", "s", "rpm", "percent", "degC", "inHg", "psi", "volt",
    "count", "ratio", "yes-no",
)  # fmt: skip
CODE_WORDS = "lower-case words and digits joined by hyphens"

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One parsed file: its name, where things stand in it, and the faults found so far."""

    name: str
    lines: Lines
    faults: list[Fault] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Entry:
    """One table: the file it stands in, the path to it, and its values as parsed."""

    source: SourceFile
    path: Path
    values: Mapping[str, object]

    def fault(self, words: str, *below: str | int) -> None:
        """Note a fault at this table, or at the field or element `below` it."""
        line = self.source.lines.of((*self.path, *below))
        self.source.faults.append(Fault(self.source.name, line, words))

    def only(self, *keys: str) -> None:
        """Note every key that is not one of these."""
        for key in self.values:
            if key not in keys:
                self.fault(f"There is no key `{key}` here.{nearest(key, keys)}", key)

    def text(self, key: str) -> str:
        """Words that must be there; empty when they are not."""
        if key not in self.values:
            self.fault(f"The key `{key}` is missing: add it, with words in quotes.")
            return ""
        return self._words(key).strip()

    def spare_text(self, key: str) -> str | None:
        """Words that may be left out, or None."""
        return (self._words(key).strip() or None) if key in self.values else None

    def any_text(self, key: str) -> str:
        """Words that may be left out or empty; empty when they are."""
        value = self.values.get(key, "")
        return value.strip() if isinstance(value, str) else self._words(key)

    def _words(self, key: str) -> str:
        value = self.values[key]
        if not isinstance(value, str):
            self.fault(f"`{key}` must be words in quotes.", key)
            return ""
        if not value.strip():
            self.fault(f"`{key}` is empty: write something or take the line out.", key)
        return value

    def code(
        self, key: str = "code", pattern: re.Pattern[str] = CODE, of: str = CODE_WORDS
    ) -> str:
        """A code that must be there and match the pattern; empty when it does not."""
        code = self.text(key)
        if code and (len(code) > LONGEST_CODE or not pattern.fullmatch(code)):
            limit = f"of at most {LONGEST_CODE} characters"
            self.fault(f"`{code}` is no code: use {of}, {limit}.", key)
            return ""
        return code

    def choice(self, key: str, options: Collection[str]) -> str:
        """One of the options; empty when it is none of them."""
        chosen = self.text(key)
        if chosen and chosen not in options:
            known = ", ".join(options)
            wrong = f"`{key}` cannot be `{chosen}`: use one of {known}."
            self.fault(wrong + nearest(chosen, options), key)
            return ""
        return chosen

    def count(self, key: str, at_least: int = 0) -> int:
        """A whole number that must be there; `at_least` when it cannot be used."""
        if key not in self.values:
            self.fault(f"The key `{key}` is missing: add it, with a whole number.")
            return at_least
        value = self.values[key]
        if not isinstance(value, int) or isinstance(value, bool) or value < at_least:
            self.fault(f"`{key}` must be a whole number, {at_least} or more.", key)
            return at_least
        return value

    def number(self, key: str) -> float | None:
        """A number that may be left out, or None."""
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, int | float) and not isinstance(value, bool):
            try:
                if math.isfinite(value):
                    return float(value)
            except OverflowError:
                pass
        self.fault(f"`{key}` must be a number without quotes.", key)
        return None

    def flag(self, key: str) -> bool:
        """True or false; false when it is left out."""
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            self.fault(f"`{key}` must be true or false, without quotes.", key)
        return value is True

    def bounds(self) -> Bounds:
        """The limits given here, which must leave room for some number."""
        found = Bounds(**{key: self.number(key) for key in BOUNDS})
        if found.at_least is not None and found.above is not None:
            self.fault("Give `at_least` or `above`, not both.", "above")
        if found.at_most is not None and found.below is not None:
            self.fault("Give `at_most` or `below`, not both.", "below")
        lows = [low for low in (found.at_least, found.above) if low is not None]
        highs = [high for high in (found.at_most, found.below) if high is not None]
        strict = found.above is not None or found.below is not None
        if lows and highs and (max(lows) > min(highs) or (max(lows) == min(highs) and strict)):
            self.fault(
                f"These limits contradict each other: nothing lies between {max(lows):g} and "
                f"{min(highs):g}.",
                next(key for key in BOUNDS if self.values.get(key) is not None),
            )
        return found

    def bounded(self) -> bool:
        """Whether any limit is given here."""
        return any(key in self.values for key in BOUNDS)

    def texts(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """A list of words, which may be left out unless it is needed."""
        found = []
        for place, value in enumerate(self._list(key, needed=needed)):
            if isinstance(value, str) and value.strip():
                found.append(value.strip())
            else:
                self.fault(f"`{key}` takes words in quotes, none of them empty.", key, place)
        return tuple(found)

    def entries(self, key: str, *, needed: bool = False) -> tuple["Entry", ...]:
        """A list of tables, which may be left out unless it is needed."""
        found = []
        for place, value in enumerate(self._list(key, needed=needed)):
            if isinstance(value, dict):
                found.append(Entry(self.source, (*self.path, key, place), value))
            else:
                self.fault(f"`{key}` takes tables in curly brackets.", key, place)
        return tuple(found)

    def _list(self, key: str, *, needed: bool) -> list[object]:
        value = self.values.get(key)
        if value is None or value == []:
            if needed:
                self.fault(f"`{key}` is missing or empty: add at least one.", key)
            return []
        if not isinstance(value, list):
            self.fault(f"`{key}` must be a list in square brackets.", key)
            return []
        return value


@dataclass(frozen=True, slots=True)
class Placed(Generic[T]):
    """Something read, and the table it was read from."""

    value: T
    at: Entry


def unique(placed: Collection[tuple[str, Entry]], kind: str) -> None:
    """Note every code of a kind that was used before, saying where."""
    first: dict[str, Entry] = {}
    for code, entry in placed:
        if code and code in first:
            before = first[code]
            line = before.source.lines.of((*before.path, "code"))
            where = f"{before.source.name}, line {line}"
            entry.fault(f"The {kind} `{code}` is already in {where}: choose another.", "code")
        elif code:
            first[code] = entry


def unknown(code: str, kind: str, known: Collection[str]) -> str:
    """Words for a code that names nothing, with the nearest that does."""
    return f"There is no {kind} `{code}`.{nearest(code, known)}"
