"""Readings against an aircraft's limits, with the arithmetic done."""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Literal, Protocol

from syllabus.errors import OUT_OF_LIMIT
from syllabus.saying import joined, say
from syllabus.standards import Bounds, number_words
from syllabus.units import in_unit, unit_sign

Value = Decimal | float | str

_NUMBER = re.compile(r"([-+\u2212]?)([0-9]*)(?:([.,])([0-9]+))?\s*(.*)", re.DOTALL)
_MOST_DIGITS = 12
_KEPT = 1024
_SPELLINGS = {
    "degc": ("\u00b0c", "c", "deg c", "\u00ba c", "\u00b0 c"),
    "deg": ("\u00b0", "degrees"),
    "percent": ("%",),
    "s": ("sec", "seconds"),
    "min": ("minutes",),
    "volt": ("v", "volts"),
    "inhg": ("in hg", "in", '"'),
    "count": ("",),
    "ratio": ("",),
}
_SHORT = {"y": "yes", "n": "no"}


@dataclass(frozen=True, slots=True)
class Reading:
    """Something read off the aircraft. Unit `yes-no` takes the words yes and no."""

    code: str
    words: str
    unit: str
    task: str


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """A number out of two readings: `difference` first minus second, `spread` absolute."""

    code: str
    words: str
    how: Literal["difference", "spread"]
    of: tuple[str, str]
    unit: str
    task: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit on one reading or arithmetic result; `breach` names the error it proposes."""

    code: str
    of: str
    words: str
    bounds: Bounds
    expect: str | None
    breach: str | None
    source: str


class Instrumented(Protocol):
    """What has readings and limits on them: an aircraft type."""

    @property
    def readings(self) -> Sequence[Reading]:
        """What is read off it."""

    @property
    def arithmetic(self) -> Sequence[Arithmetic]:
        """What is worked out of the readings."""

    @property
    def limits(self) -> Sequence[Limit]:
        """The limits on both."""


@dataclass(frozen=True, slots=True)
class ReadingResult:
    """One limit judged. `code` is the limit's, `readings` the codes it rests on.

    `value` is exact, or yes or no; `words` tell readings, arithmetic and limit; `error` is what
    a breach proposes for `task`.
    """

    code: str
    task: str
    readings: tuple[str, ...]
    value: Decimal | str
    met: bool
    words: str
    error: str


def parse_reading(text: str, unit: str) -> Decimal | str:
    """What was typed for a reading, exactly: a number, or yes or no for the unit `yes-no`.

    A comma may stand for the decimal point; the unit may be typed behind the number. ValueError
    with words for people when it cannot be read or could be read in two ways.
    """
    typed = " ".join(text.split())
    if unit == "yes-no":
        answer = _SHORT.get(typed.lower(), typed.lower())
        if answer not in ("yes", "no"):
            raise ValueError(say("Answer yes or no."))
        return answer
    found = _NUMBER.fullmatch(typed)
    sign, whole, mark, part, rest = found.groups("") if found else ("", "", "", "", "")
    if not whole and not part:
        raise ValueError(say("Enter a number{in_unit}, such as 40.", in_unit=_in(unit)))
    if len(whole) + len(part) > _MOST_DIGITS:
        raise ValueError(say("This number is too long."))
    if rest and rest.lower() not in (unit.lower(), *_SPELLINGS.get(unit.lower(), ())):
        raise ValueError(
            say(
                "Enter a number{in_unit}: {rest} was typed behind it.",
                in_unit=_in(unit),
                rest=rest,
            )
        )
    if mark == "," and len(part) == 3 and whole.strip("0"):
        raise ValueError(
            say(
                "Write {whole} or {fraction}: {typed} could be either.",
                whole=f"{whole}{part}",
                fraction=f"{whole}.{part}",
                typed=typed,
            )
        )
    minus = "-" if sign in ("-", "\u2212") else ""
    return Decimal(f"{minus}{whole or 0}.{part or 0}") + 0  # no minus zero


def _in(unit: str) -> str:
    sign = unit_sign(unit)
    return say(" in {unit}", unit=sign) if sign else ""


@lru_cache(_KEPT)
def limit_words(limit: Limit, unit: str) -> str:
    """A limit in a few words, such as `40 to 90 °C`."""
    return say(limit.expect) if limit.expect else in_unit(limit.bounds.words, unit)


def held_to(aircraft: Instrumented, code: str, taken: Collection[str]) -> str:
    """Every limit that a reading is held to among those taken, those on arithmetic named."""
    own = {one.code: one.unit for one in aircraft.readings if one.code == code}
    worked = {
        one.code: one.unit
        for one in aircraft.arithmetic
        if code in one.of and all(other in taken for other in one.of)
    }
    alone = [limit_words(one, own[code]) for one in aircraft.limits if one.of in own]
    beside = [
        joined(" ", (one.words, limit_words(one, worked[one.of])))
        for one in aircraft.limits
        if one.of in worked
    ]
    return joined("; ", alone + beside)


def work_out(aircraft: Instrumented, values: Mapping[str, Value]) -> tuple[ReadingResult, ...]:
    """Judge every limit whose readings are all there, in the order of the limits.

    `values` by reading code: numbers, or words as typed. Numbers are compared as the decimals
    they are written as. ValueError for words that cannot be read.
    """
    units = {reading.code: reading.unit for reading in aircraft.readings}
    exact = {
        code: _exact(value, units[code]) for code, value in values.items() if code in units
    }
    return tuple(
        result
        for limit in aircraft.limits
        if (result := _judge(aircraft, limit, exact)) is not None
    )


def _exact(value: Value, unit: str) -> Decimal | str:
    if isinstance(value, str):
        return parse_reading(value, unit)
    number = Decimal(str(value))
    if not number.is_finite():
        raise ValueError("This is not a number.")
    return number


def _judge(
    aircraft: Instrumented, limit: Limit, values: Mapping[str, Decimal | str]
) -> ReadingResult | None:
    """The limit judged, or None when a reading it needs is not there."""
    readings = {reading.code: reading for reading in aircraft.readings}
    worked = next((one for one in aircraft.arithmetic if one.code == limit.of), None)
    judged = worked or readings.get(limit.of)
    needed: tuple[str, ...] = worked.of if worked else (limit.of,)
    if judged is None or not all(code in values for code in needed):
        return None
    value = values[needed[0]]
    told = joined(" ", (limit.words, _word(value, limit, judged.unit)))
    if worked:
        first, second = (values[code] for code in needed)
        value = _worked_out(worked, first, second)
        names = _short(readings[needed[0]].words, readings[needed[1]].words)
        told = say(
            "{one} {first}, {other} {second}, difference {difference}",
            one=names[0],
            first=_plain(first),
            other=names[1],
            second=_plain(second),
            difference=_plain(value),
        )
    asked = _asked(limit, judged.unit)
    met = value == limit.expect if limit.expect else limit.bounds.met_by(Decimal(value))
    error = limit.breach or OUT_OF_LIMIT.code
    return ReadingResult(
        limit.code, judged.task, needed, value, met, joined(", ", (told, asked)), error
    )


def _worked_out(how: Arithmetic, first: Decimal | str, second: Decimal | str) -> Decimal:
    difference = Decimal(first) - Decimal(second)
    return abs(difference) if how.how == "spread" else difference


def _short(first: str, second: str) -> tuple[str, str]:
    """Two names without the words they end on alike: `left`, `right`."""
    one, other = first.split(), second.split()
    while one and other and one[-1].lower() == other[-1].lower():
        one, other = one[:-1], other[:-1]
    if not one or not other:
        return first, second
    return " ".join(one).lower(), " ".join(other).lower()


def _word(value: Decimal | str, limit: Limit, unit: str) -> str:
    return say(str(value)) if limit.expect else in_unit(_plain(value), unit)


def _asked(limit: Limit, unit: str) -> str:
    """The limit in words, such as `limit 50 rpm` or `limit over 0, at most 150 rpm`."""
    if limit.expect:
        return say("must be {answer}", answer=say(limit.expect))
    return say("limit {bounds}", bounds=in_unit(joined(", ", _limits(limit.bounds)), unit))


def _limits(bounds: Bounds) -> Iterator[str]:
    if bounds.at_least is not None:
        yield say("at least {value}", value=number_words(bounds.at_least))
    if bounds.above is not None:
        yield say("over {value}", value=number_words(bounds.above))
    if bounds.below is not None:
        yield say("under {value}", value=number_words(bounds.below))
    if bounds.at_most is not None:
        alone = bounds.at_least is None and bounds.above is None
        most = number_words(bounds.at_most)
        yield most if alone else say("at most {value}", value=most)


def _plain(value: Decimal | str) -> str:
    return value if isinstance(value, str) else number_words(value)
