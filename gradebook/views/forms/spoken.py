"""Forms whose labels, hints, choices and built-in faults speak the reader's language."""

from typing import Any

import wtforms
from wtforms.fields.core import Field, UnboundField
from wtforms.meta import DefaultMeta

from gradebook import words


class SpokenMeta(DefaultMeta):
    """Says the words of a field in the reader's language when the field joins its form."""

    cache_translations = True

    @property
    def locales(self) -> tuple[str, ...]:
        """The languages that WTForms' own faults are said in."""
        return (words.reader().code.partition("-")[0],)

    def bind_field(
        self, form: wtforms.Form, unbound_field: UnboundField[Any], options: dict[str, Any]
    ) -> Field:
        """The field, its label and hint said."""
        field = super().bind_field(form, unbound_field, options)
        field.label.text = str(words.spoken(field.label.text))
        field.description = str(words.spoken(field.description))
        return field


class Form(wtforms.Form):
    """What every form of ours is."""

    Meta = SpokenMeta
