"""Elements of SVG as escaped text. A page has thousands: what needs no escape gets none."""

import re
from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup, escape

from gradebook.words import spoken

_UNSAFE = re.compile("[&<>\"']")
_KEPT = 8192
"""So many coordinates are kept as text, the last used ones: pictures of a kind share most."""


@lru_cache(_KEPT)
def number(value: float) -> str:
    """A coordinate with at most one decimal: `12`, `12.5`; never `-0`."""
    rounded = round(value, 1) or 0.0
    return f"{rounded:g}"


def _safe(value: object) -> str:
    """Text as it may stand in a tag or between two; Markup is taken as it is."""
    if type(value) is str and not _UNSAFE.search(value):
        return value
    return str(escape(value))


def _attribute(name: str, value: str | float) -> str:
    """With a leading space; `class_` and `stroke_width` lose their underscores."""
    told = _safe(value) if isinstance(value, str) else number(value)
    return f' {_hyphened(name)}="{told}"'


@lru_cache
def _hyphened(name: str) -> str:
    return name.rstrip("_").replace("_", "-")


def element(tag: str, words: str | None = None, /, **values: str | float) -> Markup:
    """One element: empty, or around words that are escaped unless they are Markup."""
    opening = "".join([f"<{tag}", *map(_attribute, values, values.values())])
    if words is None:
        return Markup(f"{opening}/>")  # noqa: S704 - every value went through _safe
    return Markup(f"{opening}>{_safe(spoken(words))}</{tag}>")  # noqa: S704 - likewise


def picture(
    name: str, size: tuple[float, float], label: str, parts: Iterable[Markup], words: str = ""
) -> Markup:
    """A whole picture of width x height units: class `name`, a label, longer words if any."""
    width, height = size
    longer = element("desc", words) if words else Markup("")
    values: dict[str, str | float] = {
        "class": name,
        "viewBox": f"0 0 {number(width)} {number(height)}",
        "role": "img",
        "aria-label": str(spoken(label)),
    }
    inside = Markup("".join([element("title", label), longer, *parts]))  # noqa: S704 - each is
    return element("svg", inside, **values)
