"""Parameters while they are being fitted: as vectors, with what is expected of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from gradebook.analytics.needle.coefficients import Values, cut_table
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.parameters import Parameters, Spread

FIELDS = tuple(Spread.__dataclass_fields__)
LOGGED = np.array([name not in ("durability", "carry", "hold") for name in FIELDS])
"""The fields of `Spread` that are positive, and fitted as logs."""

DOUBTS = np.array([0.5, 0.5, 0.6, 0.7, 0.7, 0.8, 0.5, 0.3, 0.4, 0.7])
"""Prior standard deviations of the fields of `Spread`, of the log where they are logged."""

HOLD = FIELDS.index("hold")

SPACING_DOUBT, SHIFT_DOUBT = 0.5, 1.0
"""Prior standard deviations of log distances between cuts, and of common shifts of tasks."""


@dataclass(frozen=True, slots=True)
class Draft:
    """Parameters on scales where a step is a step.

    `spread` [10]: fields of `Spread`, logs where `LOGGED`, `hold` as its logit. `gaps`: log
    distances between neighbouring cuts, by scale. `curves` [3, tasks]: start, plateau, logit of
    the rate. `hands` [2, instructors]: severity, log of the spread.
    """

    spread: Floats
    gaps: tuple[Floats, ...]
    places: tuple[int, ...]
    """By scale, how many cuts lie below the standard's."""
    curves: Floats
    hands: Floats

    def values(self) -> Values:
        """The same in the columns the kernel reads."""
        spread = self.spread.copy()
        spread[LOGGED] = np.exp(spread[LOGGED])
        spread[HOLD] = expit(spread[HOLD])
        sure = np.zeros((1, self.curves.shape[1]))
        return Values(
            spread,
            np.concatenate([self.curves[:2], expit(self.curves[2:]), sure, sure]),
            np.stack([self.hands[0], np.exp(self.hands[1]), np.zeros(self.hands.shape[1])]),
            cut_table(self.cuts()),
        )

    def cuts(self) -> list[Floats]:
        """Thresholds by scale, 0 where the standard begins."""
        found = []
        for gaps, place in zip(self.gaps, self.places, strict=True):
            rising = np.concatenate([[0.0], np.cumsum(np.exp(gaps))])
            found.append(rising - rising[place])
        return found

    def vector(self) -> Floats:
        """What all students and tasks share; the last three, 0 here, shift all curves."""
        return np.concatenate([self.spread, *self.gaps, np.zeros(3)])

    def moved(self, vector: Floats) -> "Draft":
        """The draft with another such vector."""
        sizes = np.cumsum([len(self.spread), *(len(one) for one in self.gaps)])
        spread, *gaps, shifts = np.split(vector, sizes)
        return replace(
            self, spread=spread, gaps=tuple(gaps), curves=self.curves + shifts[:, None]
        )


def first_draft(parameters: Parameters, tasks: Sequence[str], hands: Sequence[str]) -> Draft:
    """Start from known parameters, by the scales in the order of their cuts."""
    spread = np.array([getattr(parameters.spread, name) for name in FIELDS], float)
    spread[LOGGED] = np.log(spread[LOGGED])
    spread[HOLD] = logit(spread[HOLD])
    cuts = list(parameters.cuts.values())
    curves = [parameters.curve(name) for name in tasks]
    known = [parameters.hand(name) for name in hands]
    return Draft(
        spread,
        tuple(np.log(np.diff(one)) for one in cuts),
        tuple(one.index(0.0) for one in cuts),
        np.array([[c.start, c.plateau, logit(c.rate)] for c in curves]).reshape(-1, 3).T,
        np.array([[h.severity, np.log(h.spread)] for h in known]).reshape(-1, 2).T,
    )


def expectations(draft: Draft, cuts: Mapping[str, Sequence[float]]) -> tuple[Floats, Floats]:
    """Prior means and standard deviations of `Draft.vector`, whatever the draft says now."""
    default = Spread()
    means = np.array([getattr(default, name) for name in FIELDS], float)
    means[LOGGED] = np.log(means[LOGGED])
    means[HOLD] = logit(means[HOLD])
    n_gaps = sum(len(one) - 1 for one in cuts.values())
    centre = np.concatenate([means, np.full(n_gaps, np.log(1.5)), np.zeros(3)])
    doubt = np.concatenate([DOUBTS, np.full(n_gaps, SPACING_DOUBT), np.full(3, SHIFT_DOUBT)])
    if len(centre) != len(draft.vector()):
        raise ValueError("The draft was made for other scales.")
    return centre, doubt
