"""A form that shows what fields look like, filled in wrongly on purpose; it is never sent."""

from wtforms import (
    BooleanField,
    Form,
    PasswordField,
    RadioField,
    SelectField,
    StringField,
    TextAreaField,
)

from gradebook.views.forms.choices import choices


class SampleForm(Form):
    """One field of each kind."""

    name = StringField("Registration", description="As painted on the aircraft.")
    course = SelectField("Course", choices=choices([("a", "Private pilot, helicopter")]))
    answer = RadioField(
        "Your answer",
        choices=choices([("agree", "I agree"), ("disagree", "I disagree, as I say below")]),
    )
    words = TextAreaField("Comment")
    sample_secret = PasswordField("Secret", description="15 characters or more.")
    sure = BooleanField("I have read it")


def faulty_sample() -> SampleForm:
    """The form with an error at two fields and one about the whole."""
    form = SampleForm(data={"words": "What was typed stays."})
    form.name.errors = ["Enter the registration."]
    form.answer.errors = ["Choose an answer."]
    form.form_errors.append("Somebody saved this page meanwhile.")
    return form
