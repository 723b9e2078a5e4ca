"""The form of how somebody wants to read."""

from datetime import date

from wtforms import SelectField

from gradebook import words
from gradebook.records.commands.reading import Reading
from gradebook.views.forms.choices import choices
from gradebook.views.forms.spoken import Form
from syllabus.saying import Said, say

SAMPLE = date(2026, 11, 3)
LANGUAGES = choices([("", say("As my browser says")), *words.LANGUAGES.items()])


def _dates(style: str) -> str:
    """The sample day in a style, as the reader's language writes it."""
    english = words.Language(dates=style).day(SAMPLE)
    return Said.by(english, lambda _: words.Language(words.reader().code, style).day(SAMPLE))


class ReadingForm(Form):
    """Language, dates and hours."""

    language = SelectField(
        say("Language"),
        choices=LANGUAGES,
        validate_choice=False,
        description=say("What is signed, copied or written to a file stays English."),
    )
    dates = SelectField(
        say("Dates"),
        choices=choices((style, _dates(style)) for style in words.DATES),
        validate_choice=False,
    )
    hours_style = SelectField(
        say("Hours"),
        choices=choices(
            [("", say("As the school writes them")), ("decimal", say("1.2")), ("clock", "1:12")]
        ),
        validate_choice=False,
    )

    def chosen(self) -> Reading:
        """What was chosen."""
        return Reading(
            self.language.data or "", self.dates.data or "", self.hours_style.data or ""
        )
