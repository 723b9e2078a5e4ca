"""One-time codes: those of a code generator (RFC 6238), and recovery codes on paper."""

import hmac
import re
import secrets as randomness
from datetime import datetime

from pyotp import TOTP, random_base32

SECONDS, WINDOW = 30, 1
ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"
"""No letter or digit that is read for another on paper."""
RECOVERY_CODES, SIGNS = 10, 24


def new_generator() -> str:
    """The secret of a new code generator: 160 random bits in base 32."""
    return random_base32()


def address_of(generator: str, email: str, school: str) -> str:
    """The `otpauth:` address a code generator reads from the picture."""
    return TOTP(generator).provisioning_uri(name=email, issuer_name=school)


def step_of(generator: str, typed: str, at: datetime, after: int) -> int | None:
    """The 30-second step this code belongs to, or None.

    A step before or after the present one will do, for clocks differ; a step up to `after`
    has been used and will not.
    """
    code, now = re.sub(r"\s", "", typed), int(at.timestamp()) // SECONDS
    for step in range(now - WINDOW, now + WINDOW + 1):
        right = TOTP(generator).generate_otp(step)
        if step > after and hmac.compare_digest(right.encode(), code.encode()):
            return step
    return None


def recovery_codes() -> list[str]:
    """Ten codes of 24 signs (117 random bits), in groups of four.

    So long, a plain digest keeps them (ASVS 5.0, 6.5.2 wants 112 bits for that).
    """
    return [_recovery_code() for _ in range(RECOVERY_CODES)]


def _recovery_code() -> str:
    signs = "".join(randomness.choice(ALPHABET) for _ in range(SIGNS))
    return "-".join(signs[start : start + 4] for start in range(0, SIGNS, 4))


def bare(typed: str) -> str:
    """A recovery code as it is kept: lower case, without spaces and hyphens."""
    return re.sub(r"[\s-]", "", typed).lower()
