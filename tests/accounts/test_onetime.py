"""One-time codes against the standards' own tables, and as they are typed."""

import base64
from datetime import UTC, datetime

import pytest
from pyotp import HOTP, TOTP

from gradebook.records import onetime

KEY = base64.b32encode(b"1234567890" * 2).decode()

# RFC 4226, appendix D: six digits, counters 0 to 9.
COUNTED = (
    "755224", "287082", "359152", "969429", "338314",
    "254676", "287922", "162583", "399871", "520489",
)  # fmt: skip
# RFC 6238, appendix B, SHA-1, eight digits.
TIMED = (
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
)


def at(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


@pytest.mark.parametrize(("counter", "code"), list(enumerate(COUNTED)))
def test_a_counted_code_is_the_one_of_rfc_4226(counter: int, code: str) -> None:
    assert HOTP(KEY).at(counter) == code


@pytest.mark.parametrize(("seconds", "code"), TIMED)
def test_a_timed_code_is_the_one_of_rfc_6238(seconds: int, code: str) -> None:
    assert TOTP(KEY, digits=8).at(at(seconds)) == code
    assert onetime.step_of(KEY, code[2:], at(seconds), 0) == seconds // 30


@pytest.mark.parametrize(
    ("late", "taken"), [(-31, True), (-61, False), (31, True), (61, False)]
)
def test_a_code_of_the_step_before_or_after_will_do_but_no_other(
    late: int, taken: bool
) -> None:
    now = 1111111124
    code = TOTP(KEY).at(at(now + late))
    assert (onetime.step_of(KEY, code, at(now), 0) is not None) is taken


def test_a_step_that_was_used_is_not_taken_again() -> None:
    code = TOTP(KEY).at(at(59))
    assert onetime.step_of(KEY, code, at(59), after=0) == 1
    assert onetime.step_of(KEY, code, at(59), after=1) is None


@pytest.mark.parametrize("typed", ["287 082", " 287082 "])
def test_spaces_in_a_code_do_not_matter(typed: str) -> None:
    assert onetime.step_of(KEY, typed, at(59), 0) == 1


@pytest.mark.parametrize("typed", ["", "x", "²87082", "2870820", "94287082"])
def test_what_is_no_code_is_not_taken(typed: str) -> None:
    assert onetime.step_of(KEY, typed, at(59), 0) is None


def test_recovery_codes_differ_and_hold_nothing_easily_misread() -> None:
    codes = onetime.recovery_codes()
    assert len(set(codes)) == 10
    signs = set("".join(codes)) - {"-"}
    assert not signs & set("01iluo")
    assert {len(onetime.bare(code)) for code in codes} == {24}
