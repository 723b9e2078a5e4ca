"""Completion standards: the words, and what of them can be measured."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from syllabus.saying import figure, joined, say


def plain_number(value: float | Decimal) -> str:
    """The decimal a number is written as, without trailing zeros or an exponent."""
    text = f"{Decimal(str(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def number_words(value: float | Decimal) -> str:
    """The same for people, with the decimal sign of their language."""
    return figure(plain_number(value))


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits on one number. `at_least`/`at_most` include the value, `above`/`below` do not."""

    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None

    @property
    def words(self) -> str:
        """The bounds in words, such as `-100 to 100` or `over 0, at most 150`."""
        if self.at_least is not None and self.at_most is not None:
            least, most = number_words(self.at_least), number_words(self.at_most)
            return say("{least} to {most}", least=least, most=most)
        named = (
            (say("at least"), self.at_least),
            (say("over"), self.above),
            (say("under"), self.below),
            (say("at most"), self.at_most),
        )
        return joined(
            ", ",
            (joined(" ", (word, number_words(one))) for word, one in named if one is not None),
        )

    def met_by(self, value: float | Decimal | Fraction) -> bool:
        """Whether the value lies inside every bound that is set.

        Numbers are compared as the decimals they are written as: 0.1 is a tenth. ValueError
        for a value that is no finite number.
        """
        exact = Fraction(str(value))
        return not (
            (self.at_least is not None and exact < Fraction(str(self.at_least)))
            or (self.at_most is not None and exact > Fraction(str(self.at_most)))
            or (self.above is not None and exact <= Fraction(str(self.above)))
            or (self.below is not None and exact >= Fraction(str(self.below)))
        )


@dataclass(frozen=True, slots=True)
class Criterion:
    """A measurable part of a standard: a quantity, its bounds, the unit, where it is set."""

    code: str
    quantity: str
    bounds: Bounds
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class CompletionStandard:
    """What 'to standard' means for a task."""

    words: str
    criteria: tuple[Criterion, ...]
    source: str
