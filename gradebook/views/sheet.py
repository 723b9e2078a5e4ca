"""What the grading card, the flow run and the review show of one draft."""

from dataclasses import dataclass

from gradebook.records import carryover, gauges, rules, values
from gradebook.records.act import Act
from gradebook.records.card import Card, Entry
from gradebook.records.commands import opening
from gradebook.records.permissions import Action
from gradebook.records.store import facts, lessons, people
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.timesheet import read_times
from gradebook.records.watchitems import WatchItem, watch_items
from syllabus.course import Task
from syllabus.errors import GENERIC, ErrorType


@dataclass(frozen=True, slots=True)
class Loaded:
    """A draft with what it is judged against."""

    record: LessonRecord
    setting: rules.Setting
    card: Card


def load(act: Act, record_id: str, action: Action) -> Loaded:
    """A draft for this action, or the fault that says why not."""
    record = lessons.lesson_record(act.session, act.actor, action, record_id)
    setting = opening.setting_of(act.session, record, act)
    return Loaded(record, setting, opening.card_of(record))


@dataclass(frozen=True, slots=True)
class Row:
    """One task on the card."""

    asked: carryover.CardTask
    task: Task
    entry: Entry
    open_codes: frozenset[str]
    proposed: dict[str, str]

    @property
    def errors(self) -> list[ErrorType]:
        """The errors offered: the student's open ones first, proposed ones, the catalogue."""
        offered = {error.code: error for error in self.task.errors}
        for code in (*self.proposed, *self.entry.errors):
            if code in GENERIC:
                offered[code] = GENERIC[code]
        return sorted(offered.values(), key=lambda error: error.code not in self.open_codes)

    @property
    def meets(self) -> bool | None:
        """Whether the grade set so far reaches the target."""
        return self.task.scale.meets(self.entry.level, self.asked.target)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One draft, ready to be shown."""

    record: LessonRecord
    setting: rules.Setting
    card: Card
    rows: tuple[Row, ...]
    gauges: gauges.Gauges
    names: dict[str, str]

    @property
    def n_graded(self) -> int:
        """How many tasks have a grade or a state."""
        return sum(bool(row.entry.level) for row in self.rows)

    @property
    def times(self) -> values.Times:
        """The times as far as they can be read."""
        return read_times(self.card.times)[0]

    @property
    def below(self) -> tuple[Row, ...]:
        """Tasks graded below their target."""
        return tuple(row for row in self.rows if row.meets is False)

    @property
    def unseen(self) -> tuple[Row, ...]:
        """Tasks without a counted grade."""
        return tuple(row for row in self.rows if row.meets is None)

    @property
    def unconfirmed(self) -> tuple[gauges.Proposal, ...]:
        """Proposed error marks the instructor has not confirmed."""
        return tuple(
            mark
            for mark in self.gauges.proposed
            if mark.error not in self.card.entry(mark.task).errors
        )


def sheet_of(act: Act, record: LessonRecord, setting: rules.Setting, card: Card) -> Sheet:
    """Gather what the card shows: last grades, open watch items, verdicts and proposals."""
    history = facts.history(act.session, record.enrolment_id)
    decisions = facts.close_decisions(act.session, [record.enrolment_id])
    items = watch_items(history, decisions[record.enrolment_id])
    read = gauges.read_gauges(card, setting)
    return Sheet(
        record=record,
        setting=setting,
        card=card,
        rows=tuple(_row(asked, setting, card, items, read) for asked in setting.tasks),
        gauges=read,
        names=people.names(act.session),
    )


def _row(
    asked: carryover.CardTask,
    setting: rules.Setting,
    card: Card,
    items: tuple[WatchItem, ...],
    read: gauges.Gauges,
) -> Row:
    still = {item.error for item in items if item.is_open and item.task == asked.task}
    proposed = {mark.error: mark.why for mark in read.proposed if mark.task == asked.task}
    task = setting.course.task_by_code[asked.task]
    return Row(asked, task, card.entry(asked.task), frozenset(still), proposed)


def proposal(sheet: Sheet) -> tuple[values.Outcome, str]:
    """The outcome the card points to, and why."""
    grades = [
        values.GradeFact(
            row.task.code,
            row.entry.level,
            row.task.scale.rank(row.entry.level),
            row.asked.target,
            row.meets,
        )
        for row in sheet.rows
    ]
    errors = [
        values.ErrorFact(row.task.code, code, row.task.error(code).severity)
        for row in sheet.rows
        for code in row.entry.errors
    ]
    return carryover.proposed_outcome(sheet.setting.lesson, grades, errors)
