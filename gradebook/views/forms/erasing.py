"""Forms of retention and erasure."""

from wtforms import BooleanField, IntegerField, StringField, TextAreaField
from wtforms.validators import Length, Optional

from gradebook.views.forms.deciding import LONG, SignedForm
from gradebook.views.forms.spoken import Form
from syllabus.saying import say


class YearsForm(Form):
    """How long records are kept."""

    years = IntegerField(say("Years after a student's last entry"), [Optional()])


class AskForm(SignedForm):
    """On which legal basis records are to be erased."""

    basis = TextAreaField(
        say("Legal basis"),
        LONG,
        description=say(
            "The rule and why it applies, without the student's name: these words stay in the "
            "ledger for good."
        ),
    )
    early = BooleanField(say("A law asks for it although retention has not run"))


class ConfirmForm(SignedForm):
    """The second person's yes: whose records they are, typed."""

    name = StringField(say("The student's name"), [Length(max=200)])
