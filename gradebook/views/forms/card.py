"""The grading card's form: fields for each task, reading and time, and back into a card."""

from collections.abc import Mapping
from typing import Any

from werkzeug.datastructures import MultiDict
from wtforms import (
    HiddenField,
    RadioField,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.validators import Length

from gradebook.records.card import Card, Entry
from gradebook.records.rules import LONGEST_REMARK, Setting
from gradebook.records.timesheet import LINES
from gradebook.views.forms.choices import choices
from gradebook.views.forms.spoken import Form
from syllabus.course import Task
from syllabus.errors import GENERIC
from syllabus.saying import capital, say

LONG = [
    Length(
        max=LONGEST_REMARK,
        message=say(
            "Keep this under {longest_remark} characters.", longest_remark=LONGEST_REMARK
        ),
    )
]


class TickField(StringField):
    """A tick: browsers send nothing for an empty box, which takes back a tick kept before."""

    def process_formdata(self, valuelist: list[str]) -> None:
        """Keep the value sent, or none."""
        self.data = valuelist[0] if valuelist else ""


class CardForm(Form):
    """The fields every card has; `card_form` adds those of its tasks, readings and times."""

    version = HiddenField()
    flown_on = StringField(say("Date"))
    aircraft = SelectField(say("Aircraft type"), choices=[], validate_choice=False)
    ident = StringField(
        say("Registration"), [Length(max=20)], description=say("Needed to sign.")
    )
    remarks = TextAreaField(say("Remarks"), LONG)
    outcome = RadioField(say("Outcome"), choices=[], validate_choice=False)
    next_lesson = SelectField(say("Next lesson"), choices=[], validate_choice=False)


def card_form(
    setting: Setting, card: Card, formdata: MultiDict[str, str] | None = None
) -> CardForm:
    """The form of one card, filled from the card or from what was sent."""
    fields: dict[str, Any] = {}
    for asked in setting.tasks:
        fields.update(_task_fields(setting.course.task_by_code[asked.task]))
    aircraft = setting.aircraft(card) or next(iter(setting.course.aircraft), None)
    for reading in aircraft.readings if aircraft else ():
        fields[f"reading-{reading.code}"] = StringField(reading.words, [Length(max=20)])
    for line in LINES:
        kind = TickField if line.kind == "yes" else StringField
        fields[f"times-{line.field}"] = kind(line.words, [Length(max=10)])
    form = type("FilledCardForm", (CardForm,), fields)(formdata, data=_data(card))
    lessons = setting.course.lessons
    kinds = [(kind.code, kind.name) for kind in setting.course.aircraft]
    form.aircraft.choices = choices([("", "—"), *kinds])
    form.outcome.choices = choices(
        (one.value, capital(say(one.value))) for one in setting.outcomes()
    )
    form.next_lesson.choices = choices(
        [
            ("", say("As the syllabus says")),
            *((lesson.code, lesson.title) for lesson in lessons),
        ]
    )
    filled: CardForm = form
    return filled


def _task_fields(task: Task) -> Mapping[str, Any]:
    levels = [(level.code, level.words) for level in task.scale.levels]
    states = [(state, task.scale.words(state)) for state in task.scale.not_counted]
    errors = [(error.code, error.words) for error in (*task.errors, *GENERIC.values())]
    return {
        f"level-{task.code}": RadioField(
            task.title, choices=choices(levels + states), validate_choice=False
        ),
        f"remark-{task.code}": TextAreaField(say("Remark"), LONG),
        f"errors-{task.code}": SelectMultipleField(
            say("Errors"), choices=choices(errors), validate_choice=False
        ),
        f"together-{task.code}": HiddenField(),
    }


def _data(card: Card) -> dict[str, Any]:
    data: dict[str, Any] = {
        name: getattr(card, name)
        for name in ("flown_on", "aircraft", "ident", "remarks", "outcome", "next_lesson")
    }
    for entry in card.entries:
        data[f"level-{entry.task}"] = entry.level
        data[f"remark-{entry.task}"] = entry.remark
        data[f"errors-{entry.task}"] = list(entry.errors)
        data[f"together-{entry.task}"] = entry.level if entry.together else ""
    data |= {f"reading-{code}": typed for code, typed in card.readings.items()}
    return data | {f"times-{name}": typed for name, typed in card.times.items()}


def read_card(form: CardForm, setting: Setting, before: Card) -> Card:
    """The card as sent. What the form does not hold (the flow run) stays as it was."""
    data = form.data
    return Card(
        flown_on=data["flown_on"] or "",
        aircraft=data["aircraft"] or "",
        ident=data["ident"] or "",
        entries=tuple(_entry(data, asked.task) for asked in setting.tasks),
        readings={**_elsewhere(data, before), **_typed(data, "reading-")},
        steps=before.steps,
        times=_typed(data, "times-"),
        remarks=data["remarks"] or "",
        outcome=data["outcome"] or "",
        next_lesson=data["next_lesson"] or "",
    )


def _entry(data: Mapping[str, Any], task: str) -> Entry:
    level = data[f"level-{task}"] or ""
    return Entry(
        task=task,
        level=level,
        remark=data[f"remark-{task}"] or "",
        errors=tuple(data[f"errors-{task}"] or ()),
        together=bool(level) and data[f"together-{task}"] == level,
    )


def _elsewhere(data: Mapping[str, Any], before: Card) -> dict[str, str]:
    """Readings typed for another aircraft type, which has fields of its own."""
    return {
        code: typed for code, typed in before.readings.items() if f"reading-{code}" not in data
    }


def _typed(data: Mapping[str, Any], prefix: str) -> dict[str, str]:
    return {
        name.removeprefix(prefix): value
        for name, value in data.items()
        if name.startswith(prefix) and value
    }
