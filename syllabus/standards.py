"""Completion standards: the words, and what of them can be measured."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits on one number. `at_least`/`at_most` include the value, `above`/`below` do not."""

    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None

    def met_by(self, value: float) -> bool:
        """Whether the value lies inside every bound that is set."""
        return not (
            (self.at_least is not None and value < self.at_least)
            or (self.at_most is not None and value > self.at_most)
            or (self.above is not None and value <= self.above)
            or (self.below is not None and value >= self.below)
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
