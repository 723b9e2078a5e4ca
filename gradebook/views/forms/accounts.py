"""Forms of people and their accounts."""

from wtforms import (
    BooleanField,
    DateField,
    EmailField,
    Form,
    PasswordField,
    SelectField,
    SelectMultipleField,
    StringField,
)
from wtforms.validators import InputRequired, Length, Optional

from gradebook.records.permissions import Role
from gradebook.views.forms.choices import choices

ROLE_CHOICES = choices((role.value, role.value.capitalize()) for role in Role)


class SignInForm(Form):
    """Who it is."""

    email = EmailField("E-mail address", [Length(max=200)])
    secret = PasswordField("Secret", [Length(max=200)])


class SecretForm(Form):
    """One's own secret, old and new."""

    secret = PasswordField("Secret now", [Length(max=200)])
    new_secret = PasswordField(
        "New secret", [Length(max=200)], description="At least 15 characters."
    )


class PersonForm(Form):
    """A new person."""

    name = StringField("Name", [InputRequired("Enter the name."), Length(max=120)])
    email = EmailField("E-mail address", [InputRequired("Enter the address."), Length(max=200)])
    certificate = StringField("Certificate number", [Length(max=60)])
    roles = SelectMultipleField("Roles", choices=ROLE_CHOICES)
    secret = StringField(
        "First secret",
        [Length(max=200)],
        description="At least 15 characters. The person must change it at first sign-in.",
    )

    def chosen_roles(self) -> list[Role]:
        """The roles ticked."""
        return [Role(value) for value in self.roles.data or ()]


class RolesForm(Form):
    """The roles a person holds, and whether the account is in use."""

    roles = SelectMultipleField("Roles", choices=ROLE_CHOICES)
    active = BooleanField("May sign in")

    def chosen_roles(self) -> list[Role]:
        """The roles ticked."""
        return [Role(value) for value in self.roles.data or ()]


class FirstSecretForm(Form):
    """A new first secret set by an administrator."""

    secret = StringField("New first secret", [Length(max=200)])


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


class EventForm(Form):
    """Something to put on file."""

    what = SelectField("What", choices=[])
    happened_on = DateField("Date", [InputRequired("Enter the date.")])
    expires_on = DateField("Valid until", [Optional()])
    passed = BooleanField("Passed or in order", default=True)
    words = StringField("Notes", [Length(max=1000)])
