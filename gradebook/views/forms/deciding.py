"""Forms of signing, answering and deciding."""

from wtforms import Form, HiddenField, PasswordField, RadioField, SelectField, TextAreaField
from wtforms.validators import Length

from gradebook.views.forms.accounts import FactorForm
from gradebook.views.forms.choices import choices

ANSWERS = choices([("agree", "I agree"), ("disagree", "I disagree")])
LONG = [Length(max=2000)]


class SignForm(FactorForm):
    """The signature: the version reviewed, the secret, and a second factor where asked."""

    version = HiddenField()
    secret = PasswordField("Your secret", [Length(max=200)])


class AcknowledgeForm(FactorForm):
    """The student's answer to a signed record."""

    answer = RadioField("Your answer", choices=ANSWERS, validate_choice=False)
    comment = TextAreaField("Comment", LONG, description="Needed when you disagree.")
    secret = PasswordField("Your secret", [Length(max=200)])


class AmendForm(Form):
    """Why a record is amended."""

    reason = TextAreaField("Why is this record amended?", LONG)


class CloseWatchForm(FactorForm):
    """Why a watch item may be closed."""

    task = HiddenField()
    error = HiddenField()
    reason = TextAreaField("Why may it be closed?", LONG)
    secret = PasswordField("Your secret", [Length(max=200)])


class ApproveForm(Form):
    """Who conducts a stage check."""

    approval = HiddenField()
    checker = SelectField("Check instructor", choices=[])
    reason = TextAreaField("Reason for an exception", LONG)


class ImportForm(Form):
    """What goes with a file to import."""

    reason = TextAreaField(
        "Why may a chief instructor's own stage checks stand?",
        LONG,
        description="Only where the file holds stage checks that were not independent. "
        "It is put on each of those records.",
    )
