"""Whether an aircraft's flow, readings and limits fit together and fit the course."""

from collections.abc import Iterator

from syllabus.checklist import AircraftType, Item
from syllabus.course import Task
from syllabus.draft import Draft
from syllabus.entries import Entry, unique, unknown
from syllabus.limits import Arithmetic, Limit, Reading


def check_aircraft(draft: Draft, aircraft: AircraftType, at: Entry) -> None:
    """Note every fault of the aircraft type at the place that names it."""
    course = draft.head.category
    if course and aircraft.category and aircraft.category != course:
        at.fault(f"This aircraft is {aircraft.category}, the course {course}.", "category")
    _check_codes(aircraft, at)
    for part in ("readings", "arithmetic"):
        for entry in at.entries(part):
            _task(draft, entry)
    _check_arithmetic(aircraft, at)
    for limit, entry in zip(aircraft.limits, at.entries("limits"), strict=True):
        _check_limit(draft, aircraft, limit, entry)
    for item, entry in _items(aircraft, at):
        _check_item(draft, aircraft, item, entry)
    _check_order(draft, aircraft, at)


def _items(aircraft: AircraftType, at: Entry) -> Iterator[tuple[Item, Entry]]:
    for block, entry in zip(aircraft.blocks, at.entries("block"), strict=True):
        yield from zip(block.items, entry.entries("items"), strict=True)


def _check_codes(aircraft: AircraftType, at: Entry) -> None:
    measured = (*at.entries("readings"), *at.entries("arithmetic"))
    items = tuple(entry for _, entry in _items(aircraft, at))
    kinds = {
        "reading": measured,
        "limit": at.entries("limits"),
        "block": at.entries("block"),
        "item": items,
    }
    for kind, entries in kinds.items():
        unique([(str(entry.values.get("code", "")), entry) for entry in entries], kind)
    taken: set[str] = set()
    for item, entry in _items(aircraft, at):
        if item.reading and item.reading in taken:
            entry.fault(f"Another item already takes the reading `{item.reading}`.", "reading")
        taken.add(item.reading or "")


def _task(draft: Draft, entry: Entry) -> Task | None:
    """The task an entry names, or None once the fault is noted."""
    code, tasks = entry.values.get("task"), draft.task_by_code
    if not isinstance(code, str) or code.strip() in ("", *tasks):
        return tasks.get(code.strip()) if isinstance(code, str) else None
    if "tasks" not in draft.broken:
        entry.fault(unknown(code, "task", tasks), "task")
    return None


def _check_arithmetic(aircraft: AircraftType, at: Entry) -> None:
    readings = {reading.code: reading for reading in aircraft.readings}
    for one, entry in zip(aircraft.arithmetic, at.entries("arithmetic"), strict=True):
        for place, code in enumerate(one.of):
            if code and code not in readings:
                entry.fault(unknown(code, "reading", readings), "of", place)
            elif code and readings[code].unit != one.unit:
                wrong = f"`{code}` is read in {readings[code].unit}, this is in {one.unit}."
                entry.fault(wrong, "unit")
        if one.of[0] and one.of[0] == one.of[1]:
            entry.fault("`of` names the same reading twice.", "of")
        if one.unit == "yes-no":
            entry.fault("Nothing can be worked out of yes and no.", "unit")


def _check_limit(draft: Draft, aircraft: AircraftType, limit: Limit, at: Entry) -> None:
    measured: dict[str, Reading | Arithmetic] = {
        **{one.code: one for one in aircraft.readings},
        **{one.code: one for one in aircraft.arithmetic},
    }
    if limit.of not in measured:
        if limit.of:
            at.fault(unknown(limit.of, "reading", measured), "of")
        return
    judged = measured[limit.of]
    if judged.unit and (judged.unit == "yes-no") != (limit.expect is not None):
        at.fault(
            f"`{limit.of}` is in {judged.unit}: `expect` is for readings of yes or no, "
            "at_least, at_most, above and below are for numbers.",
            "of",
        )
    task = draft.task_by_code.get(judged.task)
    if task is not None:
        _check_error(task, limit.breach, "breach", at)


def _check_error(task: Task, code: str | None, key: str, at: Entry) -> None:
    known = [error.code for error in task.errors]
    if code and code not in known:
        kind = f"error of the task {task.code} called"
        at.fault(unknown(code, kind, known), key)


def _check_item(draft: Draft, aircraft: AircraftType, item: Item, at: Entry) -> None:
    task = _task(draft, at)
    if task is not None:
        _check_error(task, item.omitted, "omitted", at)
        _check_error(task, item.swapped, "swapped", at)
    readings = [reading.code for reading in aircraft.readings]
    if item.reading and item.reading not in readings:
        at.fault(unknown(item.reading, "reading", readings), "reading")


def _check_order(draft: Draft, aircraft: AircraftType, at: Entry) -> None:
    """Tasks first appear on the checklist in the order of the course's flow."""
    places = {code: place for place, code in reversed(list(enumerate(draft.head.flow)))}
    seen: set[str] = set()
    furthest = ""
    for item, entry in _items(aircraft, at):
        if item.task in seen or item.task not in places:
            continue
        seen.add(item.task)
        if furthest and places[item.task] < places[furthest]:
            entry.fault(
                f"The checklist comes to `{item.task}` after `{furthest}`, the flow in "
                "course.toml the other way round: make them agree.",
                "task",
            )
        else:
            furthest = item.task
