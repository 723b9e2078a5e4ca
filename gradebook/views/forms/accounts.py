"""Forms of people and their accounts."""

from wtforms import (
    BooleanField,
    DateField,
    EmailField,
    HiddenField,
    PasswordField,
    SelectField,
    SelectMultipleField,
    StringField,
)
from wtforms.validators import InputRequired, Length, Optional

from gradebook.records import secrets
from gradebook.records.certificates import TERMS, Term
from gradebook.records.commands.factors import Shown
from gradebook.records.permissions import Role
from gradebook.views.forms.choices import choices
from gradebook.views.forms.spoken import Form
from syllabus.saying import capital, say

BY_TWO = say("A second person confirms every role but student and auditor.")
ROLE_CHOICES = choices((role.value, capital(say(role.value))) for role in Role)


TERM_CHOICES = choices((term.value, words) for term, words in TERMS.items())


class SecretField(PasswordField):
    """A secret, read the same whichever way a keyboard composes its signs."""

    def process_formdata(self, valuelist: list[str]) -> None:
        """Take the typed text in its plain form."""
        super().process_formdata([secrets.plain(typed) for typed in valuelist])


class SignInForm(Form):
    """Who it is."""

    email = EmailField(say("E-mail address"), [Length(max=200)])
    secret = SecretField(say("Secret"), [Length(max=200)])


class FactorForm(Form):
    """A second factor where one is asked for: a code typed, or what a passkey answered."""

    code = StringField(
        say("Code"),
        [Length(max=40)],
        description=say("From your code generator, or one of your recovery codes."),
    )
    passkey = HiddenField()

    def shown(self) -> Shown:
        """What was shown."""
        return Shown(self.code.data or "", self.passkey.data or "")


class SecondForm(FactorForm):
    """The second step of signing in."""

    secret = SecretField(say("Your secret"), [Length(max=200)])


class SecretForm(FactorForm):
    """One's own secret, old and new."""

    secret = SecretField(say("Secret now"), [Length(max=200)])
    new_secret = SecretField(
        say("New secret"),
        [Length(max=200)],
        description=say(
            "A few words that are not about you. At least 15 characters, or 8 beside "
            "a second factor."
        ),
    )
    again = SecretField(say("New secret once more"), [Length(max=200)])


class JoinForm(Form):
    """The secret somebody sets through a link."""

    new_secret = SecretField(say("Your secret"), [Length(max=200)])
    again = SecretField(say("The same once more"), [Length(max=200)])


class CodeForm(Form):
    """A new code generator shows that it works."""

    sealed = HiddenField()
    code = StringField(say("The code it shows now"), [Length(max=40)])
    label = StringField(
        say("Its name"), [Length(max=60)], description=say("Such as: my phone.")
    )


class PasskeyForm(Form):
    """A new passkey."""

    passkey = HiddenField()
    label = StringField(
        say("Its name"), [Length(max=60)], description=say("Such as: my laptop.")
    )


class RemoveForm(Form):
    """The secret once more, before a factor goes."""

    secret = SecretField(say("Your secret"), [Length(max=200)])


class HolderForm(Form):
    """What holds for somebody's roles and for the certificate behind them."""

    certificate_term = SelectField(
        say("The certificate"),
        choices=TERM_CHOICES,
        default="",
        description=say("Without expiry it holds by recent experience (14 CFR 61.197)."),
    )
    certificate_until = DateField(
        say("Its last day"),
        [Optional()],
        description=say("The last day on which its holder may instruct."),
    )

    def chosen_roles(self) -> list[Role]:
        """The roles ticked."""
        return [Role(value) for value in self["roles"].data or ()]

    def chosen_term(self) -> Term:
        """How long the certificate holds."""
        return Term(self.certificate_term.data or "")


class PersonForm(HolderForm):
    """A new person."""

    name = StringField(say("Name"), [InputRequired(say("Enter the name.")), Length(max=120)])
    email = EmailField(
        say("E-mail address"), [InputRequired(say("Enter the address.")), Length(max=200)]
    )
    certificate = StringField(
        say("Certificate number"),
        [Length(max=60)],
        description=say("Needed for instructors, check instructors and the chief instructor."),
    )
    roles = SelectMultipleField(say("Roles"), choices=ROLE_CHOICES, description=BY_TWO)


class RolesForm(HolderForm):
    """The roles a person holds, and whether the account is in use."""

    roles = SelectMultipleField(say("Roles"), choices=ROLE_CHOICES, description=BY_TWO)
    certificate = StringField(say("Certificate number"), [Length(max=60)])
    active = BooleanField(say("May sign in"))


class EnrolForm(Form):
    """A student into a course."""

    course = SelectField(say("Course"), choices=[])
    instructor = SelectField(
        say("Principal instructor"), [InputRequired(say("Choose who teaches this student."))]
    )
    enrolled_on = DateField(say("Enrolled on"), [InputRequired(say("Enter the date."))])


class AssignForm(Form):
    """Who teaches a student."""

    instructor = SelectField(say("Instructor"), choices=[])
    principal = BooleanField(say("As principal instructor"))
    end = BooleanField(say("No longer teaches this student"))
