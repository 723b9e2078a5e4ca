"""What a phone takes along in its pocket, to grade and sign where there is no network."""

from collections import Counter

from flask import Blueprint, render_template

from gradebook import clock
from gradebook.records import pocket as packed
from gradebook.records.act import Act
from gradebook.records.commands import packing, phones
from gradebook.views import desk
from gradebook.views.forms.card import card_form
from gradebook.views.sheet import gather, sheet_of, total_words

bp = Blueprint("pocket", __name__)
Plain = dict[str, object]


@bp.get("/api/pocket")
def pocket() -> Plain:
    """Every open card of the asker's, and a blank one of what comes next for each student."""
    school = desk.school()
    with desk.reading() as act:
        return {
            "person": {"id": act.actor.person_id, "name": act.actor.name},
            "school": {
                "name": school.name if school else "",
                "zone": act.zone,
                "hours_style": desk.hours_style(),
            },
            "made_at": clock.zulu(act.at),
            "phones": phones.in_force(act.session, act.actor.person_id),
            "cards": _cards(act),
        }


def _cards(act: Act) -> list[Plain]:
    """The cards; of a student with several also what each depends on besides itself."""
    taken = packing.pack(act)
    several = Counter(one.record.enrolment_id for one in taken)
    return [_card(act, one, several=several[one.record.enrolment_id] > 1) for one in taken]


def _card(act: Act, one: packing.Packed, *, several: bool) -> Plain:
    loaded = gather(act, one.record)
    record, setting, card = loaded.record, loaded.setting, loaded.card
    known = loaded.known.file
    sheet = sheet_of(loaded)
    form = card_form(setting, card)
    form.version.data = str(one.version)
    words = total_words(sheet)
    student = record.enrolment.student
    return {
        "record": record.id,
        "version": one.version,
        "enrolment": record.enrolment_id,
        "student": {"id": student.id, "name": student.name},
        "title": setting.lesson.title,
        "html": render_template(
            "lessons/_form.html", form=form, sheet=sheet, total=words, pocketed=True
        ),
        "setting": packed.setting_json(
            setting,
            zone=act.zone,
            hours_style=desk.hours_style(),
            watched={row.task.code: row.open_codes for row in sheet.rows},
        ),
        "card": card.as_json(),
        "past": packed.past_json(setting.course, known.history, known.decisions)
        if several
        else None,
        "body": packed.body_json(record, supersedes=one.supersedes, check=one.check),
    }
