"""Forms of people and their accounts."""

from wtforms import (
    BooleanField,
    DateField,
    EmailField,
    Form,
    HiddenField,
    PasswordField,
    SelectField,
    SelectMultipleField,
    StringField,
)
from wtforms.validators import InputRequired, Length

from gradebook.records import secrets
from gradebook.records.commands.factors import Shown
from gradebook.records.permissions import Role
from gradebook.views.forms.choices import choices

BY_TWO = "A second person confirms every role but student and auditor."
ROLE_CHOICES = choices((role.value, role.value.capitalize()) for role in Role)


class SecretField(PasswordField):
    """A secret, read the same whichever way a keyboard composes its signs."""

    def process_formdata(self, valuelist: list[str]) -> None:
        """Take the typed text in its plain form."""
        super().process_formdata([secrets.plain(typed) for typed in valuelist])


class SignInForm(Form):
    """Who it is."""

    email = EmailField("E-mail address", [Length(max=200)])
    secret = SecretField("Secret", [Length(max=200)])


class FactorForm(Form):
    """A second factor where one is asked for: a code typed, or what a passkey answered."""

    code = StringField(
        "Code",
        [Length(max=40)],
        description="From your code generator, or one of your recovery codes.",
    )
    passkey = HiddenField()

    def shown(self) -> Shown:
        """What was shown."""
        return Shown(self.code.data or "", self.passkey.data or "")


class SecondForm(FactorForm):
    """The second step of signing in."""

    secret = SecretField("Your secret", [Length(max=200)])


class SecretForm(FactorForm):
    """One's own secret, old and new."""

    secret = SecretField("Secret now", [Length(max=200)])
    new_secret = SecretField(
        "New secret",
        [Length(max=200)],
        description="A few words that are not about you. At least 15 characters, or 8 beside a "
        "second factor.",
    )
    again = SecretField("New secret once more", [Length(max=200)])


class JoinForm(Form):
    """The secret somebody sets through a link."""

    new_secret = SecretField("Your secret", [Length(max=200)])
    again = SecretField("The same once more", [Length(max=200)])


class CodeForm(Form):
    """A new code generator shows that it works."""

    sealed = HiddenField()
    code = StringField("The code it shows now", [Length(max=40)])
    label = StringField("Its name", [Length(max=60)], description="Such as: my phone.")


class PasskeyForm(Form):
    """A new passkey."""

    passkey = HiddenField()
    label = StringField("Its name", [Length(max=60)], description="Such as: my laptop.")


class RemoveForm(Form):
    """The secret once more, before a factor goes."""

    secret = SecretField("Your secret", [Length(max=200)])


class PersonForm(Form):
    """A new person."""

    name = StringField("Name", [InputRequired("Enter the name."), Length(max=120)])
    email = EmailField("E-mail address", [InputRequired("Enter the address."), Length(max=200)])
    certificate = StringField(
        "Certificate number",
        [Length(max=60)],
        description="Needed for instructors, check instructors and the chief instructor.",
    )
    roles = SelectMultipleField("Roles", choices=ROLE_CHOICES, description=BY_TWO)

    def chosen_roles(self) -> list[Role]:
        """The roles ticked."""
        return [Role(value) for value in self.roles.data or ()]


class RolesForm(Form):
    """The roles a person holds, and whether the account is in use."""

    roles = SelectMultipleField("Roles", choices=ROLE_CHOICES, description=BY_TWO)
    certificate = StringField("Certificate number", [Length(max=60)])
    active = BooleanField("May sign in")

    def chosen_roles(self) -> list[Role]:
        """The roles ticked."""
        return [Role(value) for value in self.roles.data or ()]


class EnrolForm(Form):
    """A student into a course."""

    course = SelectField("Course", choices=[])
    instructor = SelectField("Principal instructor", choices=[])
    enrolled_on = DateField("Enrolled on", [InputRequired("Enter the date.")])


class AssignForm(Form):
    """Who teaches a student."""

    instructor = SelectField("Instructor", choices=[])
    principal = BooleanField("As principal instructor")
    end = BooleanField("No longer teaches this student")
