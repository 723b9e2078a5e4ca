"""Units as people read them."""

import pytest

from syllabus.units import in_unit, unit_sign


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        ("40", "degC", "40 °C"),
        ("13.8", "volt", "13.8 V"),
        ("-10 to 10", "deg", "-10 to 10°"),
        ("95", "percent", "95 %"),
        ("3", "count", "3"),
        ("165", "rpm", "165 rpm"),
        ("29.9", "inHg", "29.9 inHg"),
    ],
)
def test_a_value_has_the_sign_of_its_unit(value: str, unit: str, words: str) -> None:
    assert in_unit(value, unit) == words


def test_a_unit_nobody_knows_stays_as_it_is_written() -> None:
    assert unit_sign("furlong") == "furlong"
