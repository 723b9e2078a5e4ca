"""Proof of proficiency from a run of attempts that met the standard or did not.

A learning-curve CUSUM: each attempt adds a score, up when it met the standard and down when it
did not, never below 0; at a threshold proficiency is proven. After proof the opposite chart
watches for relapse. The thresholds come from the exact distribution of the run length, so both
error rates are known, and are said beside every verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log

from gradebook.analytics.runlengths import (
    UNIT,
    Walk,
    mean_run_length,
    signal_chance,
    smallest_threshold,
)
from gradebook.formats import count
from syllabus.saying import figure, say

_FALSE_RELAPSE = 0.05


@dataclass(frozen=True, slots=True)
class ProofPlan:
    """What counts as proof, and how often it errs.

    `p0` and `p1` are the failure rates held inadequate and adequate. `false_proof` and
    `true_proof` are the chances of proof within `attempts` at those rates,
    `true_proof_at_half` at half of p1. `arl0` and `arl1` are the mean attempts until proof.
    After proof, `false_relapse` is the chance of a relapse signal within `attempts` at p1 and
    `true_relapse` the same at p0.
    """

    p0: float
    p1: float
    attempts: int
    h: float
    false_proof: float
    true_proof: float
    true_proof_at_half: float
    shortest_clean_run: int
    arl0: float
    arl1: float
    relapse_h: float
    false_relapse: float
    true_relapse: float

    @property
    def claim(self) -> str:
        """What a proof under this plan is worth, in one sentence."""
        return say(
            "Within {attempts} attempts a student who fails {p0} of them is called "
            "proficient {false_proof} of the time; one who fails {p1}, {true_proof}.",
            attempts=self.attempts,
            p0=f"{self.p0:.0%}",
            false_proof=figure(f"{self.false_proof:.1%}"),
            p1=f"{self.p1:.0%}",
            true_proof=f"{self.true_proof:.0%}",
        )


@dataclass(frozen=True, slots=True)
class ChartRun:
    """One run of a chart from 0 to its signal, or to the last outcome.

    `first` and `signal` are positions in the outcomes; `scores[i]` stands after outcome
    `first + i`. `signal` is None while there is none.
    """

    first: int
    scores: tuple[float, ...]
    threshold: float
    signal: int | None


@dataclass(frozen=True, slots=True)
class ProofChart:
    """The charts of one student and task over `n` outcomes.

    `runs` alternate: towards proof, then watching for relapse, then towards proof again.
    """

    plan: ProofPlan
    n: int
    runs: tuple[ChartRun, ...]

    @property
    def proved_at(self) -> int | None:
        """Position of the outcome that gave the proof now standing; None without one."""
        proofs, relapses = self.runs[::2], self.runs[1::2]
        fallen = len(relapses) == len(proofs) and relapses[-1].signal is not None
        return None if fallen else proofs[-1].signal

    @property
    def relapsed_at(self) -> int | None:
        """Position of the latest relapse signal; None without one."""
        return max(
            (one.signal for one in self.runs[1::2] if one.signal is not None), default=None
        )

    @property
    def is_proven(self) -> bool:
        """Whether a proof stands."""
        return self.proved_at is not None

    @property
    def clean_needed(self) -> int:
        """Attempts in a row meeting the standard that would prove it from here; 0 if proven."""
        if self.is_proven:
            return 0
        last, seeking = self.runs[-1], len(self.runs) % 2 == 1
        score = last.scores[-1] if seeking and last.scores else 0.0
        return _clean_run(self.plan, score)

    @property
    def finding(self) -> str:
        """What there is to say, in one or two sentences, for any n."""
        if self.proved_at is not None:
            return say(
                "Proven at attempt {attempt} of {n}.", attempt=self.proved_at + 1, n=self.n
            )
        rest = say(
            "{clean_needed} attempts in a row that meet the standard would prove it.",
            clean_needed=self.clean_needed,
        )
        if self.clean_needed == 1:
            rest = say("One more attempt that meets the standard would prove it.")
        if self.n == 0:
            return say("Not attempted: nothing is proven. {rest}", rest=rest)
        if self.relapsed_at is not None:
            return say(
                "Proof fell at attempt {attempt} of {n}. {rest}",
                attempt=self.relapsed_at + 1,
                n=self.n,
                rest=rest,
            )
        few = self.n < self.plan.shortest_clean_run
        start = say("Too few to prove anything") if few else say("Not proven")
        return say(
            "{start} after {attempts}. {rest}",
            start=start,
            attempts=count(self.n, "attempt"),
            rest=rest,
        )


@lru_cache
def proof_walk(p0: float, p1: float) -> Walk:
    """Scores of the chart towards proof: up for an attempt that met the standard.

    Log-likelihood ratios, ln((1-p1)/(1-p0)) and ln(p0/p1). ValueError unless 0 < p1 < p0 < 1.
    Source: D. J. Biau and others, 'Quantitative and individualized assessment of the learning
    curve using LC-CUSUM', British Journal of Surgery 95 (2008) 925-929.
    """
    if not 0 < p1 < p0 < 1:
        raise ValueError("The adequate failure rate lies below the inadequate, both in (0, 1).")
    return Walk(round(log((1 - p1) / (1 - p0)) * UNIT), round(log(p0 / p1) * UNIT))


def relapse_walk(p0: float, p1: float) -> Walk:
    """Scores of the chart that watches for relapse: up for an attempt that failed."""
    proof = proof_walk(p0, p1)
    return Walk(proof.down, proof.up)


@lru_cache
def choose_threshold(p0: float, p1: float, attempts: int, false_proof: float = 0.05) -> float:
    """Smallest threshold on a grid of .05 whose chance of false proof is within the bound.

    The chance is that of proof within `attempts` at failure rate p0. ValueError for rates out
    of order, a bound outside (0, 1), no attempt, or so few that not even all clean would do.
    """
    walk = proof_walk(p0, p1)
    if attempts < 1 or not 0 < false_proof < 1:
        raise ValueError("At least one attempt, and a bound between 0 and 1.")
    h = smallest_threshold(walk, 1 - p0, attempts, false_proof)
    if walk.up * attempts < round(h * UNIT):
        raise ValueError(f"{attempts} attempts cannot prove a failure rate below {p0}.")
    return h


@lru_cache
def proof_plan(
    p0: float = 0.40, p1: float = 0.10, attempts: int = 20, false_proof: float = 0.05
) -> ProofPlan:
    """The plan for these failure rates; ValueError as `choose_threshold`.

    The relapse threshold is chosen the same way: a false relapse within `attempts` at p1 in at
    most 5 % of cases.
    """
    h = choose_threshold(p0, p1, attempts, false_proof)
    walk, back = proof_walk(p0, p1), relapse_walk(p0, p1)
    relapse_h = smallest_threshold(back, p1, attempts, _FALSE_RELAPSE)
    return ProofPlan(
        p0,
        p1,
        attempts,
        h=h,
        false_proof=signal_chance(walk, 1 - p0, h, attempts),
        true_proof=signal_chance(walk, 1 - p1, h, attempts),
        true_proof_at_half=signal_chance(walk, 1 - p1 / 2, h, attempts),
        shortest_clean_run=ceil(round(h * UNIT) / walk.up),
        arl0=mean_run_length(walk, 1 - p0, h),
        arl1=mean_run_length(walk, 1 - p1, h),
        relapse_h=relapse_h,
        false_relapse=signal_chance(back, p1, relapse_h, attempts),
        true_relapse=signal_chance(back, p0, relapse_h, attempts),
    )


def follow(outcomes: Sequence[bool], plan: ProofPlan) -> ProofChart:
    """The chart of outcomes, oldest first, True where the standard was met.

    Any number of outcomes, none included. Each signal starts the other chart at the next one.
    """
    walks = proof_walk(plan.p0, plan.p1), relapse_walk(plan.p0, plan.p1)
    runs = [_run(outcomes, 0, walks[0], plan.h)]
    while (signal := runs[-1].signal) is not None and signal + 1 < len(outcomes):
        relapse = len(runs) % 2
        h = plan.relapse_h if relapse else plan.h
        ups = [not met for met in outcomes] if relapse else outcomes
        runs.append(_run(ups, signal + 1, walks[relapse], h))
    return ProofChart(plan, len(outcomes), tuple(runs))


def _run(ups: Sequence[bool], first: int, walk: Walk, h: float) -> ChartRun:
    """One chart from its first outcome until it signals."""
    score, scores = 0, []
    for up in ups[first:]:
        score = max(0, score + (walk.up if up else -walk.down))
        scores.append(score / UNIT)
        if score >= round(h * UNIT):
            return ChartRun(first, tuple(scores), h, first + len(scores) - 1)
    return ChartRun(first, tuple(scores), h, None)


def _clean_run(plan: ProofPlan, score: float) -> int:
    """Fewest attempts in a row, all meeting the standard, from this score to the threshold."""
    missing = round(plan.h * UNIT) - round(score * UNIT)
    return ceil(missing / proof_walk(plan.p0, plan.p1).up)
