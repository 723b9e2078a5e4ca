"""Hour rules against rows 20-30 and 51 of standards.md section 9, and what is counted."""

from datetime import date
from fractions import Fraction

import pytest

from syllabus.credit import Earlier, device_credit, transfer_credit
from syllabus.requirements import LoggedFlight, judge
from tests.requirement_builders import a_set, at_least, failing, more_than

TEST_DAY = date(2026, 6, 15)
IN_WINDOW = date(2026, 5, 1)


HELICOPTER = a_set(  # 14 CFR 61.109(c), in part from memory (standards.md 1.6)
    at_least("total", 40),
    at_least("dual", 20),
    at_least("solo", 10),
    at_least("cross-country-dual", 3),
    at_least("night-dual", 3),
    more_than("night-cross-country-nm", 50),
    at_least("night-landings", 10, "count"),
    at_least("preparation", 3),
    at_least("solo-cross-country", 3),
    at_least("long-cross-country-nm", 100, "nm", "long"),
    at_least("long-cross-country-points", 3, "count", "long"),
    more_than("long-cross-country-segment-nm", 25, "long"),
    at_least("tower-landings", 3, "count"),
)
AIRPLANE = a_set(  # 14 CFR 61.109(a)
    at_least("total", 40),
    at_least("dual", 20),
    at_least("solo", 10),
    at_least("cross-country-dual", 3),
    at_least("night-dual", 3),
    more_than("night-cross-country-nm", 100),
    at_least("night-landings", 10, "count"),
    at_least("instrument", 3),
    at_least("preparation", 3),
    at_least("solo-cross-country", 5),
    at_least("long-cross-country-nm", 150, "nm", "long"),
    at_least("long-cross-country-points", 3, "count", "long"),
    more_than("long-cross-country-segment-nm", 50, "long"),
    at_least("tower-landings", 3, "count"),
)


def hours(decimal: float) -> int:
    return round(decimal * 60)


def file_of_row_20(**changed: float) -> list[LoggedFlight]:
    """Total 42, dual 30, solo 12 and everything else of row 20; `changed` alters one amount."""
    row = {
        "dual": 30.0, "solo": 12.0, "xc_dual": 3.1, "night": 3.0, "night_nm": 52.0,
        "night_landings": 10, "preparation": 3.0, "solo_xc": 3.0, "long_nm": 101.0,
        "points": 3, "segment": 26.0, "tower": 3, "instrument": 0.0,
    } | changed  # fmt: skip
    rest = row["dual"] - row["night"] - row["preparation"]
    night = LoggedFlight(
        "night", date(2026, 4, 1), dual=hours(row["night"]), night=hours(row["night"]),
        cross_country=hours(row["xc_dual"]) if row["xc_dual"] <= row["night"] else hours(3.0),
        distance_nm=row["night_nm"], night_landings=int(row["night_landings"]),
    )  # fmt: skip
    more_xc = max(0, hours(row["xc_dual"]) - night.cross_country)
    return [
        LoggedFlight(
            "dual", date(2026, 2, 1), dual=hours(rest), cross_country=more_xc,
            instrument=hours(row["instrument"]),
        ),
        night,
        LoggedFlight("prep", IN_WINDOW, dual=hours(row["preparation"]), test_preparation=True),
        LoggedFlight(
            "solo", date(2026, 3, 1), solo=hours(row["solo"] - row["solo_xc"]),
            tower_landings=int(row["tower"]),
        ),
        LoggedFlight(
            "long", date(2026, 4, 20), solo=hours(row["solo_xc"]),
            cross_country=hours(row["solo_xc"]), distance_nm=row["long_nm"],
            longest_leg_nm=row["segment"], landing_points=int(row["points"]),
        ),
    ]  # fmt: skip


def test_a_complete_helicopter_file_meets_the_rule() -> None:  # row 20: 61.109(c)
    assert failing(judge(HELICOPTER, file_of_row_20(), TEST_DAY)) == {}


@pytest.mark.parametrize(
    ("changed", "missing"),
    [
        ({"solo_xc": 2.9}, {"solo-cross-country": Fraction(1, 10)}),  # row 21: (c)(4)(i)
        ({"night_nm": 50.0}, {"night-cross-country-nm": 0}),  # row 22: (c)(2)(i), "over"
        ({"segment": 25.0}, {"long-cross-country-segment-nm": 0}),  # row 23, from memory
        ({"long_nm": 100.0}, {}),  # row 24
        ({"night_landings": 9}, {"night-landings": 1}),  # row 25, (c)(2)(ii), from memory
    ],
)
def test_a_helicopter_file_falls_short_by_exactly_what_is_missing(
    changed: dict[str, float], missing: dict[str, Fraction]
) -> None:
    assert failing(judge(HELICOPTER, file_of_row_20(**changed), TEST_DAY)) == missing


def test_an_airplane_file_short_of_instrument_time() -> None:  # row 26: 61.109(a)(3)
    file = file_of_row_20(
        solo_xc=5.0, night_nm=101.0, long_nm=150.0, segment=51.0, instrument=2.9, solo=10.0
    )
    assert failing(judge(AIRPLANE, file, TEST_DAY)) == {"instrument": Fraction(1, 10)}


def test_an_approved_course_may_be_shorter() -> None:  # row 27: App. B (from memory), 61.109
    app_b = a_set(at_least("total", 35), at_least("dual", 20), at_least("solo", 5))
    file = [
        LoggedFlight("a", IN_WINDOW, dual=hours(30)),
        LoggedFlight("b", IN_WINDOW, solo=hours(5)),
    ]
    assert failing(judge(app_b, file)) == {}
    part_61 = a_set(at_least("total", 40), at_least("dual", 20), at_least("solo", 10))
    assert failing(judge(part_61, file)) == {"total": 5, "solo": 5}


def test_device_hours_are_credited_up_to_a_fifth_of_the_course() -> None:  # row 28: App. B
    assert device_credit(hours(9), hours(35)) == hours(7)
    assert device_credit(hours(3), hours(35)) == hours(3)


def test_transferred_hours_are_capped() -> None:  # rows 29, 30: 141.77(c)(1), (3)
    received, curriculum = hours(20), hours(35)
    other = transfer_credit(received, curriculum, Earlier.OTHER, tests_passed=False)
    approved = transfer_credit(received, curriculum, Earlier.APPROVED_COURSE, tests_passed=True)
    untested = transfer_credit(
        received, curriculum, Earlier.APPROVED_COURSE, tests_passed=False
    )
    assert (other, approved, untested) == (hours(8.75), hours(17.5), 0)


def test_negative_minutes_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        device_credit(-1, 60)


def test_easa_wants_hours_on_the_type_of_the_test() -> None:  # row 51: FCL.210.H
    easa = a_set(
        at_least("total", 45),
        at_least("dual", 25),
        at_least("solo", 10),
        at_least("solo-cross-country", 5),
        at_least("long-cross-country-nm", 100, "nm", "long"),
        at_least("long-cross-country-points", 2, "count", "long"),
        at_least("on-type", 35),
        device=5,
    )
    file = [
        LoggedFlight("device", date(2026, 1, 1), device=hours(5)),
        LoggedFlight("other", date(2026, 1, 2), dual=hours(6), aircraft="dunlin"),
        LoggedFlight("dual", date(2026, 1, 3), dual=hours(24), aircraft="tystie"),
        LoggedFlight("solo", date(2026, 1, 4), solo=hours(5), aircraft="tystie"),
        LoggedFlight(
            "long", date(2026, 1, 5), solo=hours(5), cross_country=hours(5), distance_nm=100,
            landing_points=2, aircraft="tystie",
        ),
    ]  # fmt: skip
    verdicts = judge(easa, file, test_type="tystie")
    assert failing(verdicts) == {"on-type": 1}
    by_code = {one.rule.code: one for one in verdicts}
    assert by_code["total"].have == 45
    on_type = {one.flight_id: one.why for one in by_code["on-type"].not_counted}
    assert on_type["other"] == "not the type of the test"
