"""Hour and experience requirements: pure verdicts with evidence and citation.

Amounts are exact fractions (hours from whole minutes), so 2.9 h is 174 minutes and nothing is
rounded before it is compared.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from syllabus.clocks import preparation_window
from syllabus.measures import FLOWN, MEASURES, LoggedFlight, amount_words
from syllabus.saying import dated, say
from syllabus.standards import Bounds

__all__ = ["LoggedFlight", "NotCounted", "RequirementSet", "Rule", "RuleVerdict", "judge"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One line of a requirement set; rules with the same `flight` are judged on one flight.

    `days`: only flights within this many days before the day judged; None leaves preparation
    its own window of two calendar months (14 CFR 61.39) and everything else without one.
    """

    code: str
    words: str
    measure: str
    bounds: Bounds
    unit: str
    citation: str
    flight: str | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True)
class RequirementSet:
    """A named set of rules with the citation and who confirmed it, when (empty: nobody yet).

    `device_credit`: decimal hours of training device that may count towards the total.
    `test_type`: code of the aircraft type of the test, for the measure `on-type`; empty for the
    first type of the course.
    """

    code: str
    title: str
    citation: str
    effective_from: str
    verified_by: str
    verified_on: str
    rules: tuple[Rule, ...]
    device_credit: float = 0.0
    test_type: str = ""


@dataclass(frozen=True, slots=True)
class NotCounted:
    """A flight that a rule did not count, and why."""

    flight_id: str
    why: str


@dataclass(frozen=True, slots=True)
class RuleVerdict:
    """One rule judged. Amounts are in the rule's unit; `shortfall` is 0 when it is met.

    A strict rule ('more than') missed by exactly nothing has shortfall 0 and is not met.
    """

    rule: Rule
    met: bool
    have: Fraction
    need: Fraction
    shortfall: Fraction
    counted: tuple[str, ...]
    not_counted: tuple[NotCounted, ...]

    @property
    def have_words(self) -> str:
        """What is there, such as `38.5 h`."""
        return amount_words(self.have, self.rule.unit)

    @property
    def need_words(self) -> str:
        """What is asked, such as `at least 40.0 h` or `more than 50 nm`."""
        bounds = self.rule.bounds
        asked = amount_words(self.need, self.rule.unit)
        if bounds.at_least is not None:
            return say("at least {value}", value=asked)
        if bounds.above is not None:
            return say("more than {value}", value=asked)
        return (
            say("at most {value}", value=asked)
            if bounds.at_most is not None
            else say("less than {value}", value=asked)
        )


def judge(
    requirement_set: RequirementSet,
    flights: Sequence[LoggedFlight],
    on: date | None = None,
    test_type: str = "",
) -> tuple[RuleVerdict, ...]:
    """Judge every rule of a set over the flights, in the set's order.

    `on` is the day of the test or application that windows look back from (None: no window);
    `test_type` is the aircraft type of the test, for the measure `on-type`. KeyError for a
    measure that does not exist.
    """
    terms = _Terms(on, test_type, Fraction(str(requirement_set.device_credit)))
    flown = sorted(flights, key=lambda flight: flight.on)
    return tuple(
        _judge(rule, requirement_set.rules, flown, terms) for rule in requirement_set.rules
    )


@dataclass(frozen=True, slots=True)
class _Terms:
    """What bounds the judging apart from the rules."""

    on: date | None
    test_type: str
    device_credit: Fraction

    def barred(self, rule: Rule, flight: LoggedFlight) -> str | None:
        """Why the flight cannot count for the rule at all; None when it can."""
        if rule.measure == "on-type" and flight.flight and flight.aircraft != self.test_type:
            return say("not the type of the test")
        return MEASURES[rule.measure].barred(flight) or self.outside(rule, flight)

    def outside(self, rule: Rule, flight: LoggedFlight) -> str | None:
        """Words for a flight outside the rule's window; None when it has none or lies in it."""
        if self.on is None:
            return None
        first, last = date.min, date.max
        if rule.days is not None:
            first, last = self.on - timedelta(days=rule.days), self.on
        elif rule.measure == "preparation":
            first, last = preparation_window(self.on)
        if first <= flight.on <= last:
            return None
        return say(
            "outside its window, {first} to {last}", first=dated(first), last=dated(last)
        )


def _judge(
    rule: Rule, rules: tuple[Rule, ...], flown: list[LoggedFlight], terms: _Terms
) -> RuleVerdict:
    if rule.flight is not None:
        return _judge_one(
            rule, [one for one in rules if one.flight == rule.flight], flown, terms
        )
    if MEASURES[rule.measure].best:
        return _judge_one(rule, [rule], flown, terms)
    adding = list(_adding(rule, flown, terms))
    counted = tuple(flight.flight_id for flight, _, why in adding if why is None)
    left = tuple(NotCounted(flight.flight_id, why) for flight, _, why in adding if why)
    have = sum((amount for _, amount, _ in adding), Fraction(0))
    return _verdict(rule, have, counted, left)


def _adding(
    rule: Rule, flown: list[LoggedFlight], terms: _Terms
) -> Iterator[tuple[LoggedFlight, Fraction, str | None]]:
    """What each flight adds to a rule that sums, or why it adds nothing."""
    measure = MEASURES[rule.measure]
    credit = terms.device_credit if rule.measure == "total" else Fraction(0)
    for flight in flown:
        why = terms.barred(rule, flight)
        amount = Fraction(0) if why else measure.of(flight)
        if why in (None, FLOWN.why) and terms.outside(rule, flight) is None:
            device = min(credit, Fraction(flight.device, 60))
            credit, amount = credit - device, amount + device
        if amount:
            yield flight, amount, None
        elif rule.measure == "total" and flight.device:
            yield (
                flight,
                amount,
                say("no device credit left") if terms.device_credit else say("device time"),
            )
        else:
            yield flight, amount, why or say("adds nothing here")


def _judge_one(
    rule: Rule, group: list[Rule], flown: list[LoggedFlight], terms: _Terms
) -> RuleVerdict:
    """Judge a rule on the one flight that comes nearest to meeting the whole group."""
    able = [one for one in flown if all(terms.barred(part, one) is None for part in group)]
    if not able:
        left = tuple(NotCounted(one.flight_id, _first_bar(group, one, terms)) for one in flown)
        return _verdict(rule, Fraction(0), (), left)
    best = max(able, key=lambda one: _nearness(group, one))
    left = tuple(
        NotCounted(one.flight_id, _passed_over(group, one, terms))
        for one in flown
        if one is not best
    )
    return _verdict(rule, MEASURES[rule.measure].of(best), (best.flight_id,), left)


def _nearness(group: list[Rule], flight: LoggedFlight) -> tuple[int, list[Fraction]]:
    """Sort key: how many rules of the group the flight meets, then how much it brings."""
    amounts = [MEASURES[part.measure].of(flight) for part in group]
    met = [_meets(part.bounds, amount) for part, amount in zip(group, amounts, strict=True)]
    return sum(met), amounts


def _first_bar(group: list[Rule], flight: LoggedFlight, terms: _Terms) -> str:
    bars = (terms.barred(part, flight) for part in group)
    return next((why for why in bars if why), "")


def _passed_over(group: list[Rule], flight: LoggedFlight, terms: _Terms) -> str:
    """Why another flight was taken: what bars this one, what it lacks, or nothing at all."""
    if bar := _first_bar(group, flight, terms):
        return bar
    for part in group:
        verdict = _verdict(part, MEASURES[part.measure].of(flight), (), ())
        if not verdict.met:
            return say(
                "{rule}: {have}, needs {need}",
                rule=part.words,
                have=verdict.have_words,
                need=verdict.need_words,
            )
    return say("another flight is counted")


def _meets(bounds: Bounds, amount: Fraction) -> bool:
    """`Bounds.met_by` without binary fractions: 2.9 is 29/10."""
    return not (
        (bounds.at_least is not None and amount < _exact(bounds.at_least))
        or (bounds.at_most is not None and amount > _exact(bounds.at_most))
        or (bounds.above is not None and amount <= _exact(bounds.above))
        or (bounds.below is not None and amount >= _exact(bounds.below))
    )


def _exact(number: float) -> Fraction:
    return Fraction(str(number))


def _verdict(
    rule: Rule, have: Fraction, counted: tuple[str, ...], left: tuple[NotCounted, ...]
) -> RuleVerdict:
    bounds = rule.bounds
    limits = (bounds.at_least, bounds.above, bounds.at_most, bounds.below)
    need = _exact(next((limit for limit in limits if limit is not None), 0))
    lower = bounds.at_least is not None or bounds.above is not None
    shortfall = max(Fraction(0), need - have) if lower else Fraction(0)
    return RuleVerdict(
        rule, _meets(bounds, have), have, need, shortfall, counted, not_counted=left
    )
