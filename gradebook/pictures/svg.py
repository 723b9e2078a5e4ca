"""Elements of SVG as escaped text."""

from collections.abc import Iterable

from markupsafe import Markup

from gradebook.words import spoken


def number(value: float) -> str:
    """A coordinate with at most one decimal: `12`, `12.5`; never `-0`."""
    rounded = round(value, 1) or 0.0
    return f"{rounded:g}"


def attributes(values: dict[str, str | float]) -> Markup:
    """Attributes with a leading space; `class_` and `stroke_width` lose their underscores."""
    written = (
        (name.rstrip("_").replace("_", "-"), number(v) if isinstance(v, int | float) else v)
        for name, v in values.items()
    )
    return Markup("").join(Markup(' {}="{}"').format(name, value) for name, value in written)


def element(tag: str, words: str | None = None, /, **values: str | float) -> Markup:
    """One element: empty, or around words that are escaped unless they are Markup."""
    opening = Markup("<{}{}").format(tag, attributes(values))
    if words is None:
        return opening + Markup("/>")
    return opening + Markup(">{}</{}>").format(spoken(words), tag)


def picture(
    name: str, size: tuple[float, float], label: str, parts: Iterable[Markup], words: str = ""
) -> Markup:
    """A whole picture of width x height units: class `name`, a label, longer words if any."""
    width, height = size
    inside = Markup("").join(parts)
    title = element("title", label)
    longer = element("desc", words) if words else Markup("")
    values: dict[str, str | float] = {
        "class": name,
        "viewBox": f"0 0 {number(width)} {number(height)}",
        "role": "img",
        "aria-label": str(spoken(label)),
    }
    return Markup("<svg{}>{}{}{}</svg>").format(attributes(values), title, longer, inside)
