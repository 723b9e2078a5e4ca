"""Forms of signing, answering and deciding."""

from typing import Self

from wtforms import (
    BooleanField,
    DateField,
    HiddenField,
    RadioField,
    SelectField,
    StringField,
    TextAreaField,
)
from wtforms.validators import InputRequired, Length, Optional

from gradebook.views.forms.accounts import FactorForm, SecretField
from gradebook.views.forms.choices import choices
from gradebook.views.forms.spoken import Form
from syllabus.saying import say

ANSWERS = choices([("agree", say("I agree")), ("disagree", say("I disagree"))])
ENDINGS = choices(
    [
        ("graduated", say("Graduated")),
        ("terminated", say("Terminated")),
        ("transferred", say("Transferred")),
    ]
)
LONG = [Length(max=2000)]


class SignedForm(FactorForm):
    """A form whose act is signed on the spot: the secret, and a factor where asked."""

    secret = SecretField(say("Your secret"), [Length(max=200)])


class AcknowledgeForm(SignedForm):
    """The student's answer to a signed record."""

    answer = RadioField(say("Your answer"), choices=ANSWERS, validate_choice=False)
    comment = TextAreaField(say("Comment"), LONG, description=say("Needed when you disagree."))


class SignForm(SignedForm):
    """The signature: the version reviewed, the secret, and a second factor where asked."""

    version = HiddenField()


class VoidForm(SignedForm):
    """Why a record is declared void."""

    reason = TextAreaField(say("Why does this record not count?"), LONG)


class EndForm(SignedForm):
    """How an enrolment ends."""

    how = SelectField(say("How does it end?"), choices=ENDINGS)
    ended_on = DateField(say("On"), [Optional()])
    reason = TextAreaField(
        say("Reason"), LONG, description=say("Needed unless the student graduates.")
    )


class AmendForm(Form):
    """Why a record is amended."""

    reason = TextAreaField(say("Why is this record amended?"), LONG)


class CloseWatchForm(SignedForm):
    """Why a watch item may be closed."""

    task = HiddenField()
    error = HiddenField()
    reason = TextAreaField(say("Why may it be closed?"), LONG)

    def named(self) -> Self:
        """The form with ids of its own, for a page may hold one for each error."""
        for one in self:
            one.id = one.label.field_id = f"{one.name}-{self.error.data}"
        return self


class RecommendForm(Form):
    """Why a student is recommended before every requirement is met."""

    reason = TextAreaField(say("Reason for an exception"), LONG)


class ApproveForm(SignedForm):
    """Who conducts a stage check."""

    approval = HiddenField()
    checker = SelectField(say("Check instructor"), choices=[])
    reason = TextAreaField(say("Reason for an exception"), LONG)


class EventForm(SignedForm):
    """Something to put on file."""

    what = SelectField(say("What"), choices=[])
    happened_on = DateField(say("Date"), [InputRequired(say("Enter the date."))])
    expires_on = DateField(say("Valid until"), [Optional()])
    passed = BooleanField(say("Passed or in order"), default=True)
    words = StringField(say("Notes"), [Length(max=1000)])


class ImportForm(Form):
    """What goes with a file to import."""

    reason = TextAreaField(
        say("Why may a chief instructor's own stage checks stand?"),
        LONG,
        description=say(
            "Only where the file holds stage checks that were not independent. It is "
            "put on each of those records."
        ),
    )
