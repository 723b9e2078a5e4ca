"""Reading `aircraft/*.toml`."""

from typing import Literal

from syllabus.checklist import AircraftType, Block, Item
from syllabus.entries import UNITS, Entry
from syllabus.limits import Arithmetic, Limit, Reading

CATEGORIES = ("RH", "ASEL")


def read_aircraft(entry: Entry) -> AircraftType:
    """One aircraft type with its flow, readings and limits."""
    entry.only(
        "code", "name", "category", "notice", "readings", "arithmetic", "limits", "block"
    )
    return AircraftType(
        code=entry.code(),
        name=entry.text("name"),
        category=entry.choice("category", CATEGORIES),
        notice=entry.text("notice"),
        blocks=tuple(map(_block, entry.entries("block", needed=True))),
        readings=tuple(map(_reading, entry.entries("readings"))),
        arithmetic=tuple(map(_arithmetic, entry.entries("arithmetic"))),
        limits=tuple(map(_limit, entry.entries("limits"))),
    )


def _reading(entry: Entry) -> Reading:
    entry.only("code", "words", "unit", "task")
    unit = entry.choice("unit", UNITS)
    return Reading(entry.code(), entry.text("words"), unit, entry.text("task"))


def _arithmetic(entry: Entry) -> Arithmetic:
    entry.only("code", "words", "how", "of", "unit", "task")
    named = entry.texts("of", needed=True)
    if named and len(named) != 2:
        entry.fault("`of` must name two readings.", "of")
    first, second = (*named, "", "")[:2]
    how: Literal["difference", "spread"] = "difference"
    if entry.choice("how", ("difference", "spread")) == "spread":
        how = "spread"
    return Arithmetic(
        code=entry.code(),
        words=entry.text("words"),
        how=how,
        of=(first, second),
        unit=entry.choice("unit", UNITS),
        task=entry.text("task"),
    )


def _limit(entry: Entry) -> Limit:
    entry.only(
        "code", "of", "words", "at_least", "at_most", "above", "below", "expect", "breach",
        "source",
    )  # fmt: skip
    expects = "expect" in entry.values
    if expects == entry.bounded():
        entry.fault("Give either limits (at_least, at_most, above, below) or `expect`.")
    return Limit(
        code=entry.code(),
        of=entry.text("of"),
        words=entry.text("words"),
        bounds=entry.bounds(),
        expect=entry.choice("expect", ("yes", "no")) if expects else None,
        breach=entry.spare_text("breach"),
        source=entry.text("source"),
    )


def _block(entry: Entry) -> Block:
    entry.only("code", "checklist", "title", "any_order", "items")
    return Block(
        code=entry.code(),
        checklist=entry.text("checklist"),
        title=entry.text("title"),
        any_order=entry.flag("any_order"),
        items=tuple(map(_item, entry.entries("items", needed=True))),
    )


def _item(entry: Entry) -> Item:
    entry.only("code", "words", "expect", "task", "reading", "omitted", "swapped", "critical")
    return Item(
        code=entry.code(),
        words=entry.text("words"),
        expect=entry.text("expect"),
        task=entry.text("task"),
        reading=entry.spare_text("reading"),
        omitted=entry.spare_text("omitted"),
        swapped=entry.spare_text("swapped"),
        critical=entry.flag("critical"),
    )
