"""How much of a training device, or of training received elsewhere, may count."""

from enum import Enum
from fractions import Fraction


class Earlier(Enum):
    """Where earlier training was had; the value is the share of the curriculum it may fill."""

    APPROVED_COURSE = Fraction(50, 100)
    """A course of a part 141 or 142 school, 14 CFR 141.77(c)(1)-(2)."""
    OTHER = Fraction(25, 100)
    """Any other earlier training, 14 CFR 141.77(c)(3)-(4)."""


def transfer_credit(
    received_minutes: int, curriculum_minutes: int, earlier: Earlier, *, tests_passed: bool
) -> int:
    """Most minutes of earlier training that may be credited.

    An approved course counts only once its tests at the receiving school are passed
    (14 CFR 141.77(c)): 0 before that. ValueError for negative minutes.
    """
    _check(received_minutes, curriculum_minutes)
    if earlier is Earlier.APPROVED_COURSE and not tests_passed:
        return 0
    return min(received_minutes, int(earlier.value * curriculum_minutes))


def device_credit(logged_minutes: int, course_minutes: int, percent: int = 20) -> int:
    """Most minutes of training device that may be credited, by share of the course's hours.

    The default 20 percent is 14 CFR part 141, App. B, full flight simulators and all devices
    together; 15 for a flight training device (from memory). ValueError for negative minutes.
    """
    _check(logged_minutes, course_minutes)
    return min(logged_minutes, course_minutes * percent // 100)


def _check(*minutes: int) -> None:
    if min(minutes) < 0:
        raise ValueError("Minutes cannot be negative.")
