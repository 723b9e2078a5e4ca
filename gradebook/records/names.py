"""Names as people type them: parts of them, in any order, whatever the accents and the case."""

import unicodedata

OWN_LETTERS = str.maketrans(
    {
        "ø": "o",
        "æ": "ae",
        "œ": "oe",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "ł": "l",
        "\u0131": "i",
        "ħ": "h",
    }
)
"""Letters that Unicode does not take apart, as they are typed without them."""


def folded(text: str) -> str:
    """The text without case and accents: `Jürgen Øst` gives `jurgen ost`."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(one for one in apart if not unicodedata.combining(one))
    return plain.translate(OWN_LETTERS)


def is_meant(name: str, typed: str) -> bool:
    """Whether every word typed is a part of the name."""
    whole = folded(name)
    return all(word in whole for word in folded(typed).split())
