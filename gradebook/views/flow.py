"""The flow run: tick checklist items as they are performed, prompted or skipped."""

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.card import Card, FlowStep
from gradebook.records.commands import opening
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.views import desk
from gradebook.views.answers import read_version
from gradebook.views.sheet import load, sheet_of
from syllabus.checklist import AircraftType
from syllabus.saying import say

bp = Blueprint("flow", __name__)
HOW = ("done", "prompted", "skipped")


@bp.get("/lessons/<record_id>/flow")
def run(record_id: str) -> str:
    """The checklist of the aircraft on the card, with what has been performed so far."""
    with desk.reading() as act:
        loaded = load(act, record_id, Action.RECORD_GRADE)
    sheet = sheet_of(loaded)
    aircraft = loaded.setting.aircraft(loaded.card)
    part = request.args.get("part") or _first_part(aircraft)
    blocks = [one for one in (aircraft.blocks if aircraft else ()) if one.checklist == part]
    rest = any(item.code not in sheet.steps_by_item for one in blocks for item in one.items)
    return render_template(
        "lessons/flow.html", sheet=sheet, aircraft=aircraft, part=part, rest=rest
    )


def _first_part(aircraft: AircraftType | None) -> str:
    return aircraft.blocks[0].checklist if aircraft and aircraft.blocks else ""


@bp.post("/lessons/<record_id>/flow")
def step(record_id: str) -> Response:
    """Add a step, take the last one back, or note the rest of a checklist as performed."""
    part = request.form.get("part", "")
    with desk.acting() as act:
        loaded = load(act, record_id, Action.RECORD_GRADE)
        aircraft = loaded.setting.aircraft(loaded.card)
        if aircraft is None:
            raise InvalidError(Problem("aircraft", say("Choose the aircraft type first.")))
        card = stepped(loaded.card, aircraft, request.form.get("do", ""), part)
        version = read_version(request.form.get("version", "")) or 0
        opening.save_card(act, opening.SaveCard(record_id, version, card))
    here = request.form.get("do", "").partition(":")[2] or "acts"
    return redirect(url_for("flow.run", record_id=record_id, part=part, _anchor=here), 303)


def stepped(card: Card, aircraft: AircraftType, wanted: str, part: str) -> Card:
    """Give the card after one tap.

    `wanted`: `done:ITEM`, `prompted:ITEM`, `skipped:ITEM`, `undo`, `clear`, or `rest` (every
    item of this checklist not yet touched, as listed).
    """
    how, _, item = wanted.partition(":")
    if wanted == "undo":
        return card.with_steps(*card.steps[:-1])
    if wanted == "clear":
        return card.with_steps()
    if wanted == "rest":
        touched = {step.item for step in card.steps}
        rest = [
            FlowStep(one.code)
            for block in aircraft.blocks
            if block.checklist == part
            for one in block.items
            if one.code not in touched
        ]
        return card.with_steps(*card.steps, *rest)
    if how not in HOW or item not in {one.code for one in aircraft.items}:
        raise InvalidError(Problem("", say("Choose an item of this checklist.")))
    return card.with_steps(*card.steps, FlowStep(item, how))
