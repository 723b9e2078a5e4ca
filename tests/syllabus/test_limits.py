"""Readings against limits, with values practitioners know."""

from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.checklist import AircraftType
from syllabus.limits import Arithmetic, Limit, Reading, parse_reading, work_out
from syllabus.reading import load_course
from syllabus.standards import Bounds
from tests.course_files import FILES


def a_type(
    readings: dict[str, str], *limits: Limit, arithmetic: tuple[Arithmetic, ...] = ()
) -> AircraftType:
    """A helicopter with readings (unit by code) and limits, and no flow."""
    read = tuple(
        Reading(code, code.replace("-", " ").capitalize(), unit, "run-up")
        for code, unit in readings.items()
    )
    return AircraftType("t", "T", "RH", "", (), read, arithmetic, limits)


def a_limit(of: str, expect: str | None = None, **bounds: float) -> Limit:
    """A limit that bears the code of what it judges."""
    words = of.replace("-", " ").capitalize()
    return Limit(of, of, words, Bounds(**bounds), expect, None, "common practice")


def magnetos(most: float, apart: float) -> AircraftType:
    """A drop above 0 and at most `most` rpm on each magneto, `apart` rpm between the two."""
    sides = ("left-drop", "right-drop")
    return a_type(
        dict.fromkeys(sides, "rpm"),
        *(a_limit(side, above=0, at_most=most) for side in sides),
        a_limit("drop-difference", at_most=apart),
        arithmetic=(Arithmetic("drop-difference", "D", "spread", sides, "rpm", "run-up"),),
    )


def failed(aircraft: AircraftType, **values: object) -> list[str]:
    """Codes of the limits that are not met; `_` in a keyword stands for a hyphen."""
    typed = {code.replace("_", "-"): value for code, value in values.items()}
    return [result.code for result in work_out(aircraft, typed) if not result.met]


@pytest.mark.parametrize(
    ("left", "right", "fails"),
    [
        (100, 60, []),
        (130, 100, ["left-drop"]),
        (100, 40, ["drop-difference"]),
        (0, 60, ["left-drop", "drop-difference"]),
    ],
)
def test_magnetos_at_125_and_50_as_the_handbooks_explain(left, right, fails):
    # FAA-H-8083-25, chapter 7 (no drop is a fault too); limits of light airplanes, from memory
    assert failed(magnetos(125, 50), left_drop=left, right_drop=right) == fails


@pytest.mark.parametrize(
    ("left", "right", "fails"),
    [
        (160, 130, []),
        (170, 110, ["drop-difference"]),
        (180, 160, ["left-drop"]),
        (0, 40, ["left-drop"]),
    ],
)
def test_magnetos_at_175_and_50(left, right, fails):
    # common practice, no published source
    assert failed(magnetos(175, 50), left_drop=left, right_drop=right) == fails


@pytest.mark.parametrize(
    ("left", "right", "fails"),
    [
        (200, 150, []),
        (201, 160, ["left-drop"]),
        (200, 149, ["drop-difference"]),
        (120, 0, ["right-drop", "drop-difference"]),
    ],
)
def test_a_helicopter_drop_of_200_and_50_between_the_two(left, right, fails):
    # common practice, no published source
    assert failed(magnetos(200, 50), left_drop=left, right_drop=right) == fails


@pytest.mark.parametrize(("seconds", "met"), [("1.4", True), ("2", True), ("2,1", False)])
def test_the_drop_settles_within_two_seconds(seconds, met):
    # common practice, no published source: the seconds are a reading of their own
    kind = a_type({"settling-time": "s"}, a_limit("settling-time", at_most=2))
    assert work_out(kind, {"settling-time": seconds})[0].met is met


@pytest.mark.parametrize(
    ("oil", "head", "fails"),
    [
        (40, 100, []),
        (39, 100, ["oil-temperature"]),
        (40, 99, ["cylinder-head-temperature"]),
        (12, 20, ["oil-temperature", "cylinder-head-temperature"]),
    ],
)
def test_no_run_up_before_the_engine_is_warm(oil, head, fails):
    # common practice, no published source
    kind = a_type(
        {"oil-temperature": "degC", "cylinder-head-temperature": "degC"},
        a_limit("oil-temperature", at_least=40),
        a_limit("cylinder-head-temperature", at_least=100),
    )
    assert failed(kind, oil_temperature=oil, cylinder_head_temperature=head) == fails


def carburettor_heat() -> AircraftType:
    """Heat raises its temperature and lowers rpm, and both come back."""
    pairs = {
        "heat-rise": ("air-hot", "air-cold"),
        "heat-rpm-loss": ("rpm-cold", "rpm-hot"),
        "heat-left": ("air-after", "air-cold"),
        "heat-rpm-lost": ("rpm-cold", "rpm-after"),
    }
    units = {
        code: "rpm" if "rpm" in code else "degC" for pair in pairs.values() for code in pair
    }
    return a_type(
        units,
        a_limit("heat-rise", above=0),
        a_limit("heat-rpm-loss", above=0),
        a_limit("heat-left", at_most=5),
        a_limit("heat-rpm-lost", at_most=20),
        arithmetic=tuple(
            Arithmetic(code, code, "difference", pair, units[pair[0]], "run-up")
            for code, pair in pairs.items()
        ),
    )


@pytest.mark.parametrize(
    ("air", "rpm", "fails"),
    [
        ((5, 45, 6), (2000, 1900, 2000), []),
        ((5, 5, 5), (2000, 2000, 2000), ["heat-rise", "heat-rpm-loss"]),
        ((5, 45, 6), (2000, 2000, 2000), ["heat-rpm-loss"]),
        ((5, 45, 30), (2000, 1900, 1910), ["heat-left", "heat-rpm-lost"]),
    ],
)
def test_carburettor_heat_warms_costs_power_and_both_come_back(air, rpm, fails):
    # common practice, no published source
    values = {
        f"{kind}_{when}": value
        for kind, taken in (("air", air), ("rpm", rpm))
        for when, value in zip(("cold", "hot", "after"), taken, strict=True)
    }
    assert failed(carburettor_heat(), **values) == fails


@pytest.mark.parametrize(("answer", "met"), [("yes", True), ("No", False)])
def test_the_needles_split_when_the_throttle_closes(answer, met):
    # common practice, no published source
    kind = a_type({"needles-split": "yes-no"}, a_limit("needles-split", expect="yes"))
    result = work_out(kind, {"needles-split": answer})[0]
    assert result.met is met
    assert result.words == f"Needles split {answer.lower()}, must be yes"


@pytest.mark.parametrize(("seconds", "met"), [(28, True), (30, False), (31, False)])
def test_oil_pressure_shows_before_thirty_seconds_or_the_engine_is_shut_down(seconds, met):
    # FAA-H-8083-3C, chapter 2: seen at 28 s go on; none at 30 s shut down
    kind = a_type({"oil-pressure-seen": "s"}, a_limit("oil-pressure-seen", below=30))
    assert work_out(kind, {"oil-pressure-seen": seconds})[0].met is met


def test_the_words_tell_both_readings_the_difference_and_the_limit():
    tystie = load_course(FILES).aircraft[0]
    results = {one.code: one for one in work_out(tystie, {"left-drop": 140, "right-drop": 165})}
    assert results["difference"].words == "left 140, right 165, difference 25, limit 50 rpm"
    assert results["right"].words == "Right magneto drop 165 rpm, limit over 0, at most 150 rpm"
    assert (results["right"].met, results["right"].error) == (False, "RU-05")
    assert results["difference"].readings == ("left-drop", "right-drop")
    assert results["difference"].task == "run-up"


def test_a_limit_without_an_error_of_its_own_proposes_the_generic_one():
    tystie = load_course(FILES).aircraft[0]
    (result,) = work_out(tystie, {"oil-temperature": "39,5"})
    assert (result.met, result.error) == (False, "reading-out-of-limit")
    assert result.words == "Oil temperature 39.5 °C, limit at least 40 °C"


def test_a_limit_whose_readings_are_not_all_there_is_not_judged():
    tystie = load_course(FILES).aircraft[0]
    assert [one.code for one in work_out(tystie, {"left-drop": 100, "x": 1})] == ["left"]
    assert work_out(tystie, {}) == ()


def test_decimals_are_compared_as_written():
    kind = a_type(
        {"a": "volt", "b": "volt"},
        a_limit("gap", at_most=0.1, at_least=0.1),
        arithmetic=(Arithmetic("gap", "Gap", "difference", ("a", "b"), "volt", "run-up"),),
    )
    (result,) = work_out(kind, {"a": 0.3, "b": 0.2})
    assert (result.met, result.value) == (True, Decimal("0.1"))


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_value_that_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="not a number"):
        work_out(a_type({"a": "volt"}, a_limit("a", at_most=1)), {"a": value})


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("165", "rpm", "165"),
        (" 165 rpm ", "rpm", "165"),
        ("4,9", "inHg", "4.9"),
        ("4.95 in Hg", "inHg", "4.95"),
        (".5", "s", "0.5"),
        ("0,125", "ratio", "0.125"),
        ("-5 °C", "degC", "-5"),
        ("\N{MINUS SIGN}5", "degC", "-5"),
        ("95%", "percent", "95"),
        ("1.700", "rpm", "1.7"),
    ],
)
def test_a_number_is_read_as_people_type_it(typed, unit, value):
    assert parse_reading(typed, unit) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "unit", "words"),
    [
        ("40 psi", "degC", "Enter a number in °C: psi was typed behind it."),
        ("forty", "degC", "Enter a number in °C, such as 40."),
        ("", "rpm", "Enter a number in rpm"),
        ("-", "rpm", "Enter a number in rpm"),
        ("nan", "rpm", "Enter a number in rpm"),
        ("1,700", "rpm", "Write 1700 or 1.700: 1,700 could be either."),
        ("1 700", "rpm", "700 was typed behind it"),
        ("1e3", "rpm", "e3 was typed behind it"),
        ("1234567890123", "rpm", "too long"),
        ("maybe", "yes-no", "Answer yes or no."),
        ("3", "yes-no", "Answer yes or no."),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(typed, unit, words):
    with pytest.raises(ValueError, match=words):
        parse_reading(typed, unit)


def test_yes_and_no_may_be_typed_short():
    assert [parse_reading(one, "yes-no") for one in ("y", "N", " Yes ")] == ["yes", "no", "yes"]


@given(st.text())
def test_whatever_is_typed_is_read_or_refused(typed):
    with suppress(ValueError):
        assert isinstance(parse_reading(typed, "rpm"), Decimal)
    with suppress(ValueError):
        assert parse_reading(typed, "yes-no") in ("yes", "no")


@given(st.integers(0, 4000), st.integers(0, 4000))
def test_the_spread_does_not_care_which_magneto_came_first(left, right):
    one = work_out(magnetos(150, 50), {"left-drop": left, "right-drop": right})[-1]
    other = work_out(magnetos(150, 50), {"left-drop": right, "right-drop": left})[-1]
    assert one.value == other.value == abs(left - right)


def test_readings_with_nothing_in_common_keep_their_names():
    kind = a_type(
        {"head": "degC", "oil": "degC"},
        a_limit("gap", at_least=20),
        arithmetic=(Arithmetic("gap", "Gap", "difference", ("head", "oil"), "degC", "run-up"),),
    )
    (result,) = work_out(kind, {"head": 100, "oil": 90})
    assert result.words == "head 100, oil 90, difference 10, limit at least 20 °C"


def test_readings_of_the_same_name_keep_it():
    same = (Reading("a", "Drop", "rpm", "run-up"), Reading("b", "Drop", "rpm", "run-up"))
    gap = Arithmetic("gap", "Gap", "spread", ("a", "b"), "rpm", "run-up")
    kind = AircraftType("t", "T", "RH", "", (), same, (gap,), (a_limit("gap", at_most=1),))
    assert (
        work_out(kind, {"a": 2, "b": 1})[0].words == "Drop 2, Drop 1, difference 1, limit 1 rpm"
    )
