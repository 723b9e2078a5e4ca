"""Choices of select and radio fields from plain pairs."""

from collections.abc import Iterable

from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined] # stubs lag


def choices(pairs: Iterable[tuple[str, str]]) -> list[SelectChoice]:
    """WTForms choices of (code, words) pairs."""
    return [SelectChoice(value, label) for value, label in pairs]
