"""An aircraft's checklist as a flow of items, some of which may come in any order."""

from dataclasses import dataclass

from syllabus.limits import Arithmetic, Limit, Reading


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the checklist: what is touched, its expected setting, and its task.

    `omitted` and `swapped` name the error proposed when it is left out or done out of order.
    """

    code: str
    words: str
    expect: str
    task: str
    reading: str | None = None
    omitted: str | None = None
    swapped: str | None = None
    critical: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """Items that belong together; inside an `any_order` block the order is free."""

    code: str
    checklist: str
    title: str
    any_order: bool
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class AircraftType:
    """An aircraft type with its flow, what is read off it, and its limits."""

    code: str
    name: str
    category: str
    notice: str
    blocks: tuple[Block, ...]
    readings: tuple[Reading, ...]
    arithmetic: tuple[Arithmetic, ...]
    limits: tuple[Limit, ...]

    @property
    def items(self) -> tuple[Item, ...]:
        """Every item in flow order."""
        return tuple(item for block in self.blocks for item in block.items)

    def reading(self, code: str) -> Reading:
        """The reading with this code; KeyError when there is none."""
        return {reading.code: reading for reading in self.readings}[code]

    def item(self, code: str) -> Item:
        """The item with this code; KeyError when there is none."""
        return {item.code: item for item in self.items}[code]
