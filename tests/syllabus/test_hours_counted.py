"""Which flights a rule counts, which it leaves out and why."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.requirements import LoggedFlight, judge
from syllabus.standards import Bounds
from tests.requirement_builders import a_set, at_least, failing, more_than

TEST_DAY = date(2026, 6, 15)
IN_WINDOW = date(2026, 5, 1)


def test_device_time_beyond_the_credit_is_not_counted() -> None:
    file = [
        LoggedFlight("one", date(2026, 1, 1), device=90),
        LoggedFlight("two", date(2026, 1, 2), device=90),
        LoggedFlight("three", date(2026, 1, 3), device=90),
    ]
    (total,) = judge(a_set(at_least("total", 40), device=2.5), file)
    assert total.have == Fraction(5, 2)
    assert total.counted == ("one", "two")
    assert [(one.flight_id, one.why) for one in total.not_counted] == [
        ("three", "no device credit left")
    ]
    (without,) = judge(a_set(at_least("total", 40)), file)
    assert without.have == 0


def test_the_long_cross_country_is_judged_on_one_flight() -> None:
    long_rules = (
        at_least("long-cross-country-nm", 100, "nm", "long"),
        at_least("long-cross-country-points", 3, "count", "long"),
        more_than("long-cross-country-segment-nm", 25, "long"),
    )
    far = LoggedFlight(
        "far", date(2026, 4, 1), solo=120, cross_country=120, distance_nm=140,
        longest_leg_nm=70, landing_points=2,
    )  # fmt: skip
    many = replace(far, flight_id="many", distance_nm=60, longest_leg_nm=20, landing_points=4)
    good = replace(far, flight_id="good", distance_nm=101, longest_leg_nm=26, landing_points=3)
    split = judge(a_set(*long_rules), [far, many])
    assert failing(split) == {"long-cross-country-points": 1}
    assert {one.counted for one in split} == {("far",)}
    together = judge(a_set(*long_rules), [far, many, good])
    assert failing(together) == {}
    assert {one.counted for one in together} == {("good",)}
    why = {one.flight_id: one.why for one in together[0].not_counted}
    assert why["far"] == "long-cross-country-points: 2, needs at least 3"
    assert why["many"] == "long-cross-country-nm: 60 nm, needs at least 100 nm"


def test_a_dual_flight_is_no_solo_cross_country() -> None:
    dual = LoggedFlight("dual", date(2026, 4, 1), dual=120, cross_country=120, distance_nm=140)
    long_rule, hours_rule = judge(
        a_set(at_least("long-cross-country-nm", 100, "nm"), at_least("solo-cross-country", 3)),
        [dual],
    )
    for verdict in (long_rule, hours_rule):
        assert (verdict.have, verdict.counted) == (0, ())
        assert [one.why for one in verdict.not_counted] == ["no solo time"]


def test_of_a_flight_part_dual_part_solo_only_the_certain_part_counts() -> None:
    mixed = LoggedFlight("mixed", date(2026, 4, 1), dual=60, solo=30, night=40)
    (night,) = judge(a_set(at_least("night-dual", 3)), [mixed])
    assert night.have == Fraction(10, 60)


def test_preparation_outside_its_window_is_left_out_and_says_why() -> None:  # 61.109, 61.39
    early = LoggedFlight("early", date(2026, 3, 31), dual=120, test_preparation=True)
    first = LoggedFlight("first", date(2026, 4, 1), dual=90, test_preparation=True)
    (verdict,) = judge(a_set(at_least("preparation", 3)), [early, first], TEST_DAY)
    assert verdict.counted == ("first",)
    assert verdict.shortfall == Fraction(3, 2)
    assert verdict.not_counted[0].why == "outside its window, 2026-04-01 to 2026-06-15"


def test_a_rule_can_count_its_window_in_days() -> None:  # row 9: App. B, from memory
    rule = replace(at_least("preparation", 3), days=60)
    early = LoggedFlight("early", date(2026, 4, 15), dual=180, test_preparation=True)
    inside = replace(early, flight_id="inside", on=date(2026, 4, 16))
    assert not judge(a_set(rule), [early], TEST_DAY)[0].met
    assert judge(a_set(rule), [inside], TEST_DAY)[0].met


def test_without_a_test_day_all_preparation_counts() -> None:
    long_ago = LoggedFlight("old", date(2020, 1, 1), dual=180, test_preparation=True)
    assert judge(a_set(at_least("preparation", 3)), [long_ago])[0].met


def test_words_say_what_is_there_and_what_is_needed() -> None:
    file = [LoggedFlight("a", IN_WINDOW, dual=2310), LoggedFlight("b", IN_WINDOW, dual=89)]
    total, night = judge(
        a_set(at_least("total", 40), more_than("night-cross-country-nm", 50)), file
    )
    assert (total.have_words, total.need_words) == ("39 h 59 min", "at least 40.0 h")
    assert (night.have_words, night.need_words) == ("0 nm", "more than 50 nm")


def test_an_unknown_measure_is_refused() -> None:
    with pytest.raises(KeyError, match="hovering"):
        judge(a_set(at_least("hovering", 3)), [])


@given(st.lists(st.integers(1, 5).map(lambda sixths: sixths * 6), min_size=1, max_size=60))
def test_tenths_of_an_hour_add_up_exactly(tenths: list[int]) -> None:
    file = [LoggedFlight(str(n), IN_WINDOW, dual=part) for n, part in enumerate(tenths)]
    asked = sum(tenths) // 6 / 10
    met = judge(a_set(at_least("dual", asked)), file)[0]
    missed = judge(a_set(at_least("dual", (sum(tenths) // 6 + 1) / 10)), file)[0]
    assert met.met
    assert (missed.met, missed.shortfall) == (False, Fraction(1, 10))


@pytest.mark.parametrize(
    ("bounds", "minutes", "met", "words"),
    [
        (Bounds(at_most=2.9), 174, True, "at most 2.9 h"),
        (Bounds(at_most=2.9), 175, False, "at most 2.9 h"),
        (Bounds(below=2.9), 173, True, "less than 2.9 h"),
        (Bounds(below=2.9), 174, False, "less than 2.9 h"),
    ],
)
def test_a_rule_can_set_an_upper_limit(
    bounds: Bounds, minutes: int, words: str, *, met: bool
) -> None:
    rule = replace(at_least("dual", 0), bounds=bounds)
    (verdict,) = judge(a_set(rule), [LoggedFlight("a", IN_WINDOW, dual=minutes)])
    assert (verdict.met, verdict.need_words, verdict.shortfall) == (met, words, 0)


def test_device_time_outside_the_window_earns_no_credit() -> None:
    rule = replace(at_least("total", 3), days=60)
    old = LoggedFlight("old", date(2026, 1, 1), device=60)
    (verdict,) = judge(a_set(rule, device=2.5), [old], TEST_DAY)
    assert verdict.have == 0


def test_only_the_total_speaks_of_device_time() -> None:
    device = LoggedFlight("device", IN_WINDOW, device=60)
    total, dual = judge(a_set(at_least("total", 3), at_least("dual", 3)), [device])
    assert [one.why for one in total.not_counted] == ["device time"]
    assert [one.why for one in dual.not_counted] == ["no dual time"]
