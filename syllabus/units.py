"""Units as people read them; courses, statements and files keep the codes. Pure."""

from collections.abc import Mapping

from syllabus.saying import joined

SIGNS: Mapping[str, str] = {
    "amp": "A",
    "count": "",
    "deg": "°",
    "degc": "°C",
    "degf": "°F",
    "percent": "%",
    "ratio": "",
    "volt": "V",
    "yes-no": "",
}
"""What stands for a unit where it is not its code."""


def unit_sign(unit: str) -> str:
    """`°C` for `degC`; nothing for a bare number."""
    return SIGNS.get(unit.lower(), unit)


def in_unit(value: str, unit: str) -> str:
    """A value with the sign of its unit: `40 °C`, `10°`, `3`."""
    sign = unit_sign(unit)
    return joined("" if sign in ("", "°") else " ", (value, sign))
