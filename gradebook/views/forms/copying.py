"""Forms of certified copies and of records from other schools."""

from wtforms import (
    BooleanField,
    FileField,
    HiddenField,
    PasswordField,
    RadioField,
    StringField,
)
from wtforms.validators import Length

from gradebook.records.copying.papers import Purpose
from gradebook.views.forms.accounts import FactorForm
from gradebook.views.forms.choices import choices
from gradebook.views.forms.spoken import Form
from syllabus.saying import say

PURPOSES = choices(
    [
        (Purpose.COPY.value, say("A copy to date")),
        (Purpose.GRADUATION.value, say("Graduation")),
        (Purpose.TRANSFER.value, say("Transfer to another school")),
        (Purpose.TERMINATION.value, say("Termination of the training")),
    ]
)
TRUST = choices(
    [
        ("unverified", say("Take it in as unverified")),
        (
            "trust",
            say("Trust this school's key: I compared its fingerprint with paper or by phone"),
        ),
    ]
)


class CertifyForm(FactorForm):
    """The chief certifies a record."""

    purpose = RadioField(
        say("What is it for?"), choices=PURPOSES, default="copy", validate_choice=False
    )
    confirmed = BooleanField(say("I have read what is missing, and certify this record"))
    secret = PasswordField(say("Your secret"), [Length(max=200)])


class FileForm(Form):
    """A portable file of another school."""

    file = FileField(
        say("The file"), description=say("It ends in .windtee-record; 10 MiB at most.")
    )


class TakeForm(FactorForm):
    """Take another school's record in, and say whether its key is to be trusted."""

    digest = HiddenField()
    trust = RadioField(
        say("How sure is its origin?"),
        choices=TRUST,
        default="unverified",
        validate_choice=False,
    )
    typed = StringField(
        say("Fingerprint"),
        [Length(max=100)],
        description=say("As printed on the paper, or as the school reads it out: 32 digits."),
    )
    words = StringField(
        say("Where you have it from"),
        [Length(max=400)],
        description=say("Such as: read out by their chief instructor on the phone, 3 May."),
    )
    secret = PasswordField(say("Your secret"), [Length(max=200)])


class VerifyForm(Form):
    """A file to be judged, and the fingerprint from paper."""

    file = FileField(
        say("The file"), description=say("It ends in .windtee-record; 10 MiB at most.")
    )
    key = StringField(
        say("Fingerprint of the school's key"),
        [Length(max=300)],
        description=say("From the paper or from the school itself, not from this page."),
    )
