"""Element codes of the FAA's certification standards, such as `PA.II.A.K3d`."""

import re
from dataclasses import dataclass

ARCHIVED = frozenset({"PA.IV.A.S10", "PA.XII.A.S1"})
"""Codes that FAA-S-ACS-6C keeps out of use; those known here, not a full list."""

_CODE = re.compile(r"([A-Z]{2,3})\.([IVX]+)\.([A-Z])\.([KRS])([0-9]{1,2})([a-z]?)")


@dataclass(frozen=True, slots=True)
class ElementCode:
    """The parts of a code; `kind` is K knowledge, R risk or S skill, `part` may be empty."""

    standard: str
    area: str
    task: str
    kind: str
    number: int
    part: str


def parse_element_code(code: str) -> ElementCode | None:
    """The parts of a public element code, or None for a code of another shape."""
    found = _CODE.fullmatch(code)
    if found is None:
        return None
    standard, area, task, kind, number, part = found.groups()
    return ElementCode(standard, area, task, kind, int(number), part)
