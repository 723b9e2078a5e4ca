"""Requirement sets built by hand for tests."""

from fractions import Fraction

from syllabus.requirements import RequirementSet, Rule, RuleVerdict
from syllabus.standards import Bounds


def at_least(code: str, amount: float, unit: str = "h", flight: str | None = None) -> Rule:
    """At least an amount of the measure `code`."""
    return Rule(code, code, code, Bounds(at_least=amount), unit, "c", flight)


def more_than(code: str, amount: float, flight: str | None = None) -> Rule:
    """More than an amount of nautical miles."""
    return Rule(code, code, code, Bounds(above=amount), "nm", "c", flight)


def a_set(*rules: Rule, device: float = 0.0) -> RequirementSet:
    """A requirement set of these rules, with hours of device credit."""
    return RequirementSet("set", "Set", "14 CFR 61", "2024-10-01", "", "", rules, device)


def failing(verdicts: tuple[RuleVerdict, ...]) -> dict[str, Fraction]:
    """Shortfall of every rule not met."""
    return {one.rule.code: one.shortfall for one in verdicts if not one.met}
