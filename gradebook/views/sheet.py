"""What the grading card, the flow run and the review show of one draft."""

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from gradebook import formats
from gradebook.records import carryover, gauges, rules, values
from gradebook.records.act import Act
from gradebook.records.card import Card, Entry
from gradebook.records.commands import opening
from gradebook.records.permissions import Action
from gradebook.records.readiness import StudentFile
from gradebook.records.store import lessons, onfile, people
from gradebook.records.store.lessons import LessonRecord
from gradebook.records.store.together import together
from gradebook.records.timesheet import LINES, Line, read_times
from gradebook.records.watchitems import WatchItem
from gradebook.views import desk
from syllabus.course import Task
from syllabus.errors import GENERIC, ErrorType
from syllabus.flow import Proposal
from syllabus.limits import Reading, held_to, limit_words
from syllabus.saying import joined, say

USUAL = {"dual", "solo", "ground", "day_landings"}


@dataclass(frozen=True, slots=True)
class Loaded:
    """A draft with what it is judged against."""

    record: LessonRecord
    setting: rules.Setting
    card: Card
    known: "Known"


@dataclass(frozen=True, slots=True)
class Known:
    """What a card is shown with: the student's file, and everybody's name by id."""

    file: StudentFile
    names: dict[str, str]


def load(act: Act, record_id: str, action: Action) -> Loaded:
    """A draft for this action, or the fault that says why not."""
    return gather(act, lessons.lesson_record(act.session, act.actor, action, record_id))


def gather(act: Act, record: LessonRecord) -> Loaded:
    """A draft at hand with what it is judged against."""
    known = _known(act, record)
    setting = opening.setting_of(act.session, record, act, known.file.history)
    return Loaded(record, setting, opening.card_of(record), known)


def _known(act: Act, record: LessonRecord) -> Known:
    ids = [record.enrolment_id]
    *found, names = together(act.session, *onfile.asked(ids), people.NAMED)
    files = onfile.files(act.session, ids, found)
    return Known(files[record.enrolment_id], people.by_id(names))


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
    def uncounted(self) -> list[tuple[str, str]]:
        """The states without a rank, code and words."""
        scale = self.task.scale
        return [(state, scale.words(state)) for state in scale.not_counted]

    @property
    def meets(self) -> bool | None:
        """Whether the grade set so far reaches the target."""
        return self.task.scale.meets(self.entry.level, self.asked.target)


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading on the card: what was typed, its limits in words, the verdict.

    `held_to` names the limits on what is worked out of it, too.
    """

    reading: Reading
    typed: str
    limits: str
    held_to: str
    met: bool | None
    words: str


@dataclass(frozen=True)
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
    def together(self) -> bool:
        """Whether any grade was set together with others, and can be taken back so."""
        return any(row.entry.together for row in self.rows)

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
    def marks(self) -> tuple[tuple[Task, ErrorType], ...]:
        """Every error of the catalogue that is marked, with its task."""
        return tuple(
            (row.task, error)
            for row in self.rows
            for error in (*row.task.errors, *GENERIC.values())
            if error.code in row.entry.errors
        )

    @property
    def flown_on(self) -> date | None:
        """The day on the card, where it can be read."""
        return rules.read_day(self.card.flown_on)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines of the time sheet."""
        return LINES

    @property
    def has_more_times(self) -> bool:
        """Whether a line beyond the usual four is filled."""
        return bool(set(self.card.times) - USUAL)

    @property
    def steps_by_item(self) -> dict[str, str]:
        """How each checklist item ticked so far was performed."""
        return {step.item: step.how for step in self.card.steps}

    @cached_property
    def readings(self) -> tuple["ReadingRow", ...]:
        """The readings of the card's aircraft that belong to its tasks."""
        aircraft = self.setting.aircraft(self.card)
        on_card = {row.task.code for row in self.rows}
        found = aircraft.readings if aircraft and self.setting.flies else ()
        return tuple(self._reading(one) for one in found if one.task in on_card)

    @property
    def taken(self) -> list["ReadingRow"]:
        """The readings typed in, those outside a limit first."""
        typed = (row for row in self.readings if row.typed.strip())
        return sorted(typed, key=lambda row: row.met is not False)

    def _reading(self, reading: Reading) -> "ReadingRow":
        results = [one for one in self.gauges.results if reading.code in one.readings]
        aircraft = self.setting.aircraft(self.card)
        taken = [code for code, typed in self.card.readings.items() if typed.strip()]
        asked = [
            limit_words(one, reading.unit)
            for one in (aircraft.limits if aircraft else ())
            if one.of == reading.code
        ]
        return ReadingRow(
            reading,
            self.card.readings.get(reading.code, ""),
            joined("; ", asked),
            held_to(aircraft, reading.code, taken) if aircraft else "",
            all(one.met for one in results) if results else None,
            joined("; ", (one.words for one in results)),
        )

    def suggested(self, outcome: str) -> str:
        """The lesson that follows this outcome, in words."""
        lessons = self.setting.course.lessons
        here = lessons.index(self.setting.lesson)
        if outcome not in ("complete", "passed"):
            return say("{lesson}, again", lesson=self.setting.lesson.title)
        return lessons[here + 1].title if here + 1 < len(lessons) else say("end of the course")

    @property
    def unconfirmed(self) -> tuple[Proposal, ...]:
        """Proposed error marks the instructor has not confirmed."""
        return tuple(
            mark
            for mark in self.gauges.proposed
            if mark.error not in self.card.entry(mark.task).errors
        )


def sheet_of(loaded: Loaded) -> Sheet:
    """What the card shows: last grades, open watch items, verdicts and proposals."""
    known, setting, card = loaded.known, loaded.setting, loaded.card
    items = known.file.watch
    read = gauges.read_gauges(card, setting)
    return Sheet(
        record=loaded.record,
        setting=setting,
        card=card,
        rows=tuple(_row(asked, setting, card, items, read) for asked in setting.tasks),
        gauges=read,
        names=known.names,
    )


def _row(
    asked: carryover.CardTask,
    setting: rules.Setting,
    card: Card,
    items: tuple[WatchItem, ...],
    read: gauges.Gauges,
) -> Row:
    still = {item.error for item in items if item.is_open and item.task == asked.task}
    proposed = {
        mark.error: say("proposed, tap to confirm: {why}", why=mark.why)
        for mark in read.proposed
        if mark.task == asked.task
    }
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
        values.ErrorFact(task.code, error.code, error.severity) for task, error in sheet.marks
    ]
    return carryover.proposed_outcome(sheet.setting.lesson, grades, errors)


def total_words(sheet: Sheet) -> str:
    """The times of the card added up, in words."""
    style, times = desk.hours_style(), sheet.times
    return say(
        "In the aircraft {flight} h (dual {dual}, solo {solo}); ground {ground} h.",
        flight=formats.hours(times.flight, style),
        dual=formats.hours(times.dual, style),
        solo=formats.hours(times.solo, style),
        ground=formats.hours(times.ground, style),
    )
