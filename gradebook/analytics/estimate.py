"""A number with its interval, or the reason in words why there is none."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with the ends of its interval; what cannot be told is None, and `why` says so."""

    value: float | None
    low: float | None = None
    high: float | None = None
    why: str = ""

    @property
    def excludes_zero(self) -> bool:
        """Whether the interval lies wholly on one side of 0; no interval excludes nothing."""
        return (
            self.low is not None and self.high is not None and (self.low > 0 or self.high < 0)
        )
