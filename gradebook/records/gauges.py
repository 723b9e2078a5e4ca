"""What the readings and the flow run of a card say: verdicts, and error marks they propose."""

from dataclasses import dataclass

from gradebook.records.card import Card
from gradebook.records.rules import Setting
from syllabus.flow import FlowResult, Proposal, Step, align, proposals
from syllabus.limits import ReadingResult, parse_reading, work_out


@dataclass(frozen=True, slots=True)
class Gauges:
    """Limits worked out, the flow run aligned, and what both propose (task, error, why)."""

    results: tuple[ReadingResult, ...]
    flow: FlowResult | None
    proposed: tuple[Proposal, ...]


NOTHING = Gauges((), None, ())


def read_gauges(card: Card, setting: Setting) -> Gauges:
    """Work out the card's readings and flow run against the aircraft chosen on it."""
    aircraft = setting.aircraft(card)
    if aircraft is None:
        return NOTHING
    units = {reading.code: reading.unit for reading in aircraft.readings}
    values = {}
    for code, typed in card.readings.items():
        if typed.strip() and code in units:
            try:
                values[code] = parse_reading(typed, units[code])
            except ValueError:
                continue  # check_card says so at the field
    results = work_out(aircraft, values)
    steps = [
        Step(step.item, step.how == "prompted") for step in card.steps if step.how != "skipped"
    ]
    flow = align(aircraft, steps, None) if card.steps else None
    on_card = {asked.task for asked in setting.tasks}
    found = proposals(flow, results, setting.course, aircraft)
    return Gauges(results, flow, tuple(mark for mark in found if mark.task in on_card))
