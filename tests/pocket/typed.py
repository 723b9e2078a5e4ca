"""What people and machines type into fields: right, nearly right, and rubbish."""

import tomllib
from pathlib import Path
from random import Random

SPACES = " \t\n\r\x0b\x1c\x1f\x85\xa0\u1680\u2009\u2028\u202f\u3000"
NOT_SPACES = "\ufeff\u200b\u180e\0\x08"  # which browsers or people may take for some
LETTERS = (
    "abcKZ\u00c0\u00e9\u00df\u1e9e\u0130\u0131\u017f\ufb01\u03a3\u03c2\u212a"
    '\u0301A\u030a\u00c5\u1100\u1161\uffee\U0001f681\U0001d7d9\u200d\x7f"\\{}<$&'
)
DIGITS = "0123456789\u0663\u06f5\uff15\u00b2"
SIGNS = ".,:;+-\u2212'\u066b_eE/%\u00b0"
ALL = SPACES + NOT_SPACES + LETTERS + DIGITS + SIGNS
NAMES = ("constructor", "__proto__", "toString", "nothing", "0", "left-blank", "complete", "")

LISTS = tomllib.loads((Path(__file__).parent / "typed.toml").read_text())
"""By kind of field: hours, counts, miles, answers, numbers, days."""


def rubbish(dice: Random, longest: int = 12) -> str:
    """A few characters of every kind."""
    return "".join(dice.choices(ALL, k=dice.randint(0, longest)))


def spaced(dice: Random, text: str) -> str:
    """The text, now and then with something at its ends or in its midst."""
    if dice.random() < 0.6:
        return text
    around = SPACES if dice.random() < 0.7 else NOT_SPACES
    if dice.random() < 0.2:
        at = dice.randint(0, len(text))
        return text[:at] + dice.choice(around) + text[at:]
    return dice.choice(["", *around]) + text + dice.choice(["", *around])


def words(dice: Random) -> str:
    """A remark: mostly short, now and then blank, or about as long as one may be."""
    luck = dice.random()
    if luck < 0.25:
        return dice.choice(["", " ", "\xa0", "\x1c", "\ufeff", "\r\n"])
    if luck < 0.97:
        return rubbish(dice, 24)
    sign = dice.choice(["x", "\U0001f681", "\u0301", "\r\n"])
    long = sign * dice.choice([1000 // len(sign), 2000 // len(sign)])
    return long[: dice.choice([1999, 2000])] + dice.choice(["", "y", "\U0001f681"])


def one_of(dice: Random, known: list[str]) -> str:
    """Something typed as in this list, with or without rubbish."""
    luck = dice.random()
    return rubbish(dice) if luck < 0.08 else spaced(dice, dice.choice(known))


def number_near(dice: Random, ends: list[float], unit: str) -> str:
    """A number at a limit or beside it, a comma for the point now and then, a unit or not."""
    near = f"{dice.choice(ends or [0]) + dice.choice([0, 0, 0.1, -0.1, 1, -1, 25]):.12g}"
    typed = near if dice.random() < 0.7 else dice.choice([near.replace(".", ","), near + ".50"])
    if dice.random() < 0.3:
        return typed
    behind = [
        "",
        unit,
        unit.upper(),
        f" {unit}",
        "\u00b0C",
        " \u00ba c",
        "\u212a",
        "rpm",
        '"',
        "In Hg",
    ]
    return typed + dice.choice(behind)
