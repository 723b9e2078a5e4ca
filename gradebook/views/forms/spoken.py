"""Forms whose labels, hints, choices and built-in faults speak the reader's language."""

from collections.abc import MutableMapping
from typing import Any, TypeVar

import wtforms
from markupsafe import Markup
from wtforms.fields.core import Field, UnboundField
from wtforms.form import BaseForm
from wtforms.meta import DefaultMeta

from gradebook import words
from gradebook.views.forms.choices import choices

AnyField = TypeVar("AnyField", bound=Field)


class SpokenMeta(DefaultMeta):
    """Says the words of a field in the reader's language."""

    def get_translations(self, form: BaseForm) -> Any:  # noqa: ANN401 - WTForms' own type
        """WTForms' own faults in the reader's language."""
        self.locales = [words.reader().code.partition("-")[0]]
        return super().get_translations(form)

    def bind_field(
        self,
        form: BaseForm,
        unbound_field: "UnboundField[AnyField]",
        options: MutableMapping[str, Any],
    ) -> AnyField:
        """The field as it joins its form, with label and hint said."""
        field = super().bind_field(form, unbound_field, options)
        field.label.text = str(words.spoken(field.label.text))
        field.description = str(words.spoken(field.description))
        return field

    def render_field(self, field: Field, render_kw: Any) -> Markup:  # noqa: ANN401 - likewise
        """The field as markup, the labels of its choices said."""
        offered = getattr(field, "choices", None)
        if offered:
            field.choices = choices(  # type: ignore[attr-defined] # those with choices alone
                (str(one.value), str(words.spoken(one.label))) for one in offered
            )
        return super().render_field(field, render_kw)


class Form(wtforms.Form):
    """What every form of ours is."""

    Meta = SpokenMeta
