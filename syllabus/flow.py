"""A run through an aircraft's checklist held against its flow, and the errors that shows."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from syllabus.checklist import AircraftType, Block, Item
from syllabus.course import Course, Task
from syllabus.errors import (
    OMITTED,
    OMITTED_CRITICAL,
    OUT_OF_LIMIT,
    SWAPPED,
    SWAPPED_CRITICAL,
    ErrorType,
    Severity,
)
from syllabus.limits import ReadingResult
from syllabus.order import agreement, damerau_distance
from syllabus.saying import say
from syllabus.sequence import Edit, distance, steps


@dataclass(frozen=True, slots=True)
class Step:
    """One checklist item performed, by its code; `prompted` when it needed a word."""

    item: str
    prompted: bool = False


@dataclass(frozen=True, slots=True)
class Swap:
    """An item done out of order with regard to another: too late, or else too early."""

    item: Item
    other: Item
    late: bool

    @property
    def words(self) -> str:
        """What happened, for people."""
        if self.late:
            return say(
                "{item} done after {other}, belongs before it",
                item=self.item.words,
                other=self.other.words,
            )
        return say(
            "{item} done before {other}, belongs after it",
            item=self.item.words,
            other=self.other.words,
        )


@dataclass(frozen=True, slots=True)
class FlowResult:
    """What a run shows. `insertions`: done again, or from outside the checklist declared.

    `expected` counts the items that belonged to the run; `distance` is the number of edits
    between run and flow, 0 for a run without fault. `moved` is the smallest set of items out of
    place: all others were done in order. `agreement` is Kendall's tau between flow and run, -1
    (backwards) to 1 (in order); None below four items done.
    """

    omissions: tuple[Item, ...]
    swaps: tuple[Swap, ...]
    insertions: tuple[Item, ...]
    prompts: tuple[Item, ...]
    expected: int
    distance: int
    moved: tuple[Item, ...]
    agreement: float | None


@dataclass(frozen=True, slots=True)
class Proposal:
    """An error mark proposed for a task; `found` says what showed it, `flow` or `reading`."""

    task: str
    error: str
    severity: Severity
    why: str
    found: str


def align(aircraft: AircraftType, run: Sequence[Step], checklist: str | None) -> FlowResult:
    """Hold the steps of a run, in the order performed, against the flow.

    `checklist` is the heading the run was declared for; None stands for every heading that a
    step belongs to, so that a checklist nobody began is not full of omissions. Inside an
    `any_order` block any order is right. Steps of items the aircraft does not have are ignored.
    """
    items = {item.code: item for item in aircraft.items}
    done = [step.item for step in run if step.item in items]
    blocks = _declared(aircraft, done, checklist)
    orders = [_expected(blocks, done), _expected(blocks, done[::-1], backwards=True)]
    expected = min(orders, key=lambda order: distance(order, done))
    left_out, put_in, crossed = _edits(expected, done)
    moved = [code for code in left_out if code in put_in]
    places = _tied(blocks, expected)
    apart = [(first, second) for first, second in crossed if places[first] != places[second]]
    swaps = [Swap(items[second], items[first], late=False) for first, second in apart]
    once = Counter(put_in) - Counter(moved)
    order = agreement(expected, done)
    prompts = dict.fromkeys(step.item for step in run if step.prompted and step.item in items)
    return FlowResult(
        omissions=tuple(items[code] for code in left_out if code not in put_in),
        swaps=(*swaps, *_moves(items, places, done, moved)),
        insertions=tuple(items[code] for code in once.elements()),
        prompts=tuple(items[code] for code in prompts),
        expected=len(expected),
        distance=damerau_distance(expected, done),
        moved=tuple(items[code] for code in order.moved),
        agreement=order.tau,
    )


def _declared(
    aircraft: AircraftType, done: Sequence[str], checklist: str | None
) -> list[Block]:
    if checklist is not None:
        return [block for block in aircraft.blocks if block.checklist == checklist]
    begun = {
        block.checklist
        for block in aircraft.blocks
        if any(item.code in done for item in block.items)
    }
    return [block for block in aircraft.blocks if block.checklist in begun]


def _expected(
    blocks: Sequence[Block], done: Sequence[str], *, backwards: bool = False
) -> list[str]:
    """The flow, items of free order in the order they were first done in `done`.

    What was left out of a free block comes at its end. `backwards` for a `done` that is
    reversed: then the last time an item was done counts.
    """
    first = {code: place for place, code in reversed(list(enumerate(done)))}
    order: list[str] = []
    for block in blocks:
        codes = [item.code for item in block.items]
        if block.any_order:
            taken = sorted(first.keys() & set(codes), key=first.__getitem__, reverse=backwards)
            codes = [*taken, *(code for code in codes if code not in first)]
        order.extend(codes)
    return order


def _edits(
    expected: Sequence[str], done: Sequence[str]
) -> tuple[list[str], list[str], list[tuple[str, str]]]:
    """What was left out, what was put in, and neighbours swapped (first belongs first)."""
    left_out, put_in, crossed = [], [], []
    for step in steps(expected, done):
        if step.edit is Edit.SWAPPED and step.expected and step.done:
            crossed.append((step.expected, step.done))
            continue
        if step.edit in (Edit.LEFT_OUT, Edit.OTHER) and step.expected:
            left_out.append(step.expected)
        if step.edit in (Edit.PUT_IN, Edit.OTHER) and step.done:
            put_in.append(step.done)
    return left_out, put_in, crossed


def _tied(blocks: Sequence[Block], expected: Sequence[str]) -> dict[str, int]:
    """Place of each item in the flow, in its order; items of one free block share theirs."""
    places = {code: place for place, code in enumerate(expected)}
    for block in blocks:
        if block.any_order:
            shared = min((places[item.code] for item in block.items), default=0)
            places.update((item.code, shared) for item in block.items)
    return places


def _moves(
    items: Mapping[str, Item],
    places: Mapping[str, int],
    done: Sequence[str],
    moved: Sequence[str],
) -> Iterator[Swap]:
    """Items that were done, but at another place; each against its nearest item in the flow."""
    when = {code: place for place, code in reversed(list(enumerate(done))) if code in places}
    for code in moved:
        later = [other for other in places if other in when and places[other] > places[code]]
        sooner = [other for other in places if other in when and places[other] < places[code]]
        late = next((other for other in later if when[other] < when[code]), None)
        early = next((other for other in reversed(sooner) if when[other] > when[code]), None)
        if late is not None:
            yield Swap(items[code], items[late], late=True)
        elif early is not None:
            yield Swap(items[code], items[early], late=False)


def proposals(
    flow: FlowResult | None,
    results: Sequence[ReadingResult],
    course: Course,
    aircraft: AircraftType,
) -> tuple[Proposal, ...]:
    """Error marks that a run and the readings propose, in the course's task order.

    Each error is proposed once per task, with every reason. Only limits on readings that this
    aircraft has count, and only tasks that the course has.
    """
    found = list(_from_readings(results, course, aircraft))
    if flow is not None:
        found.extend(_from_flow(flow, course))
    merged: dict[tuple[str, str], Proposal] = {}
    for one in found:
        before = merged.get((one.task, one.error))
        why = f"{before.why}; {one.why}" if before else one.why
        merged[one.task, one.error] = replace(before or one, why=why)
    return tuple(sorted(merged.values(), key=lambda one: course.flow_place[one.task]))


def _from_readings(
    results: Sequence[ReadingResult], course: Course, aircraft: AircraftType
) -> Iterator[Proposal]:
    known = {limit.code for limit in aircraft.limits}
    for result in results:
        task = course.task_by_code.get(result.task)
        if task is not None and not result.met and result.code in known:
            error = _error(task, result.error, OUT_OF_LIMIT)
            yield Proposal(task.code, error.code, error.severity, result.words, "reading")


def _from_flow(flow: FlowResult, course: Course) -> Iterator[Proposal]:
    for item in flow.omissions:
        generic = OMITTED_CRITICAL if item.critical else OMITTED
        yield from _mark(
            course, item, item.omitted, generic, say("{item} left out", item=item.words)
        )
    for swap in flow.swaps:
        blamed = swap.item if swap.item.swapped or not swap.other.swapped else swap.other
        critical = swap.item.critical or swap.other.critical
        generic = SWAPPED_CRITICAL if critical else SWAPPED
        yield from _mark(course, blamed, blamed.swapped, generic, swap.words)


def _mark(
    course: Course, item: Item, named: str | None, generic: ErrorType, why: str
) -> Iterator[Proposal]:
    task = course.task_by_code.get(item.task)
    if task is not None:
        error = _error(task, named, generic)
        yield Proposal(task.code, error.code, error.severity, why, "flow")


def _error(task: Task, named: str | None, generic: ErrorType) -> ErrorType:
    """The error named, or the generic one where the task has no such error."""
    try:
        return task.error(named) if named else generic
    except KeyError:
        return generic
