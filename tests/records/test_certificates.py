"""How long an instructor certificate lets its holder instruct.

14 CFR 61.197(a) as read on self-law.org: privileges may be used within 24 calendar months of
recent experience, whose last month is used to its end; Federal Register 2024-22018 took the day
of expiry off certificates issued since 1 December 2024. The dates below are ours.
"""

from datetime import date

import pytest

from gradebook.records.certificates import Certificate, Term, problems
from gradebook.records.permissions import Role

LAST = date(2026, 5, 31)


@pytest.mark.parametrize("term", [Term.EXPIRES, Term.EXPERIENCE])
@pytest.mark.parametrize(
    ("on", "holds"), [(date(2026, 5, 31), True), (date(2026, 6, 1), False)]
)
def test_the_last_day_still_counts(term: Term, on: date, holds: bool) -> None:
    held = Certificate("C", term, LAST)
    assert held.holds(on) is holds
    assert (held.why_not(on) == "") is holds


def test_the_rule_is_named() -> None:
    over = date(2026, 6, 1)
    assert "14 CFR 61.197" in Certificate("C", Term.EXPERIENCE, LAST).why_not(over)
    assert "expired on 2026-05-31" in Certificate("C", Term.EXPIRES, LAST).why_not(over)


@pytest.mark.parametrize("term", [Term.UNSTATED, Term.ENDLESS])
def test_without_a_day_it_holds_and_never_ends(term: Term) -> None:
    held = Certificate("C", term)
    assert held.holds(date.max)
    assert held.why_not(date.max) == ""
    assert not held.ends_soon(date.max)


@pytest.mark.parametrize(
    ("today", "soon"), [(date(2026, 3, 31), False), (date(2026, 4, 1), True), (LAST, True)]
)
def test_its_end_is_told_for_sixty_days(today: date, soon: bool) -> None:
    assert Certificate("C", Term.EXPIRES, LAST).ends_soon(today) is soon


@pytest.mark.parametrize(
    ("held", "roles", "fields"),
    [
        (Certificate("", Term.UNSTATED), [Role.STUDENT], []),
        (Certificate(" ", Term.UNSTATED), [Role.INSTRUCTOR], ["certificate"]),
        (Certificate("", Term.UNSTATED), [Role.CHIEF], ["certificate"]),
        (Certificate("", Term.UNSTATED), [Role.CHECK_INSTRUCTOR], ["certificate"]),
        (Certificate("C", Term.EXPIRES), [Role.INSTRUCTOR], ["certificate_until"]),
        (Certificate("C", Term.EXPERIENCE), [Role.INSTRUCTOR], ["certificate_until"]),
        (Certificate("C", Term.ENDLESS, LAST), [Role.INSTRUCTOR], ["certificate_term"]),
        (Certificate("C", Term.UNSTATED, LAST), [], ["certificate_term"]),
        (Certificate("C", Term.EXPERIENCE, LAST), [Role.INSTRUCTOR], []),
        (Certificate("C", Term.ENDLESS), [Role.INSTRUCTOR], []),
    ],
)
def test_what_was_typed_is_judged_at_its_field(
    held: Certificate, roles: list[Role], fields: list[str]
) -> None:
    assert [one.field for one in problems(held, roles)] == fields
