"""Where a student stands: history and all that follows from it, read together once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Generic, TypeVar

from sqlalchemy.orm import Session

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.readiness import Calibration, CheckChance
from gradebook.analytics.suggestion import Pick
from gradebook.records import carryover, expiry, progress, readiness, values, watchitems
from gradebook.records.copying.gaps import gaps
from gradebook.records.database import MEMORY
from gradebook.records.graded import StudentFlights
from gradebook.records.needle import Needle
from gradebook.records.remembering import Memories, once
from gradebook.records.store import courses, needles, onfile
from gradebook.records.store.together import together
from gradebook.records.tables.training import Enrolment
from gradebook.records.trail import SchoolTrail, school_trail
from syllabus.course import Course, Lesson, Stage

T = TypeVar("T")


class worked_out(Generic[T]):  # noqa: N801 - a decorator, as `property` is
    """A property whose value is kept in `found`: by all standings made of the same.

    It follows from what tells whether two are the same, so never from `enrolment`.
    """

    def __init__(self, work: Callable[[Any], T]) -> None:
        self.work, self.name, self.__doc__ = work, work.__name__, work.__doc__

    def __get__(self, state: "Standing", _: type["Standing"] | None = None) -> T:
        """The value, worked out when it is asked for first."""
        return once(state.found, self.name, lambda: self.work(state))


@dataclass(frozen=True)
class Standing:
    """One enrolment's file on a day; everything else here is worked out from it when asked."""

    enrolment: Enrolment
    course: Course
    file: readiness.StudentFile
    on: date
    fit_id: str | None
    parameters: Parameters
    beliefs: Beliefs | None
    checks: Calibration
    found: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def history(self) -> values.History:
        """Effective lessons, oldest first."""
        return self.file.history

    @worked_out
    def carried(self) -> tuple[carryover.CarriedTask, ...]:
        """Tasks still open from earlier lessons."""
        return carryover.carried(self.course, self.history)

    @property
    def watch(self) -> tuple[watchitems.WatchItem, ...]:
        """Every watch item, open and closed."""
        return self.file.watch

    @worked_out
    def open_watch(self) -> tuple[watchitems.WatchItem, ...]:
        """Watch items still open."""
        return tuple(item for item in self.watch if item.is_open)

    @worked_out
    def expiring(self) -> tuple[expiry.Expiring, ...]:
        """What on file runs out soon, or just has."""
        return expiry.expiring(self.course, self.file.events, self.on)

    @worked_out
    def next_lesson(self) -> Lesson | None:
        """The lesson that comes next; None at the end of the course."""
        return carryover.next_lesson(self.course, self.history)

    @worked_out
    def lacking(self) -> tuple[str, ...]:
        """What of the course is still missing, in words; graduation waits for it."""
        found = gaps(self.course, self.file, "graduated", self.on)
        return tuple(one.words for one in found if one.blocks)

    @worked_out
    def stage(self) -> Stage:
        """The stage the student is in (the last one at the end of the course)."""
        coming = self.next_lesson
        return self.course.stage_of[coming.code] if coming else self.course.stages[-1]

    def passed(self, stage: Stage) -> bool:
        """Whether the check of this stage has been passed."""
        return stage.check.code in carryover.completed(self.history)

    def awaits(self, stage: Stage) -> bool:
        """Whether the check of this stage can still come: neither passed nor left behind."""
        return self.enrolment.ended_on is None and not self.passed(stage)

    @worked_out
    def weak(self) -> tuple[progress.WeakItem, ...]:
        """What holds the student back, the worst first."""
        return progress.weak_items(self.course, self.history, self.watch, self.carried)

    @worked_out
    def needle(self) -> Needle:
        """How likely the student meets the standard, task by task, and what follows."""
        known = (self.course, self.parameters, self.beliefs, self.history, self.on)
        return Needle(*known, self.checks)

    @worked_out
    def trail(self) -> SchoolTrail:
        """Every counted grade with what was to be expected of it."""
        flights = [StudentFlights("", self.course, self.history)]
        return school_trail(flights, self.parameters)

    @worked_out
    def suggested(self) -> tuple[Pick, ...]:
        """What to fly next, the most urgent first; nothing at the end of the course."""
        if self.next_lesson is None:
            return ()
        carried = [one.task for one in self.carried]
        watched = [item.task for item in self.open_watch]
        return self.needle.suggest(self.next_lesson, carried, watched)

    @worked_out
    def chance(self) -> CheckChance:
        """The chance of passing the check of the stage the student is in, as it stands."""
        return self.needle.check(self.stage)

    @worked_out
    def stall(self) -> progress.Stall:
        """Days without a flight, and plateaus."""
        return progress.stalled(self.history, self.on)

    @worked_out
    def _judged(self) -> dict[str, values.Readiness]:
        return {}

    def readiness(self, stage: Stage) -> values.Readiness:
        """Every hard requirement of a stage's check as it stands."""
        if stage.code not in self._judged:
            found = readiness.readiness(self.course, stage, self.file, self.on)
            self._judged[stage.code] = found
        return self._judged[stage.code]


def standings(session: Session, enrolments: Sequence[Enrolment], on: date) -> list[Standing]:
    """The standing of each enrolment, in the order given; three statements however many."""
    ids = [row.id for row in enrolments]
    state = needles.STATE.of(enrolment_ids=ids)
    asked = onfile.asked(ids)
    found = together(session, *asked, needles.NEWEST, state, needles.CHECKED)
    files = onfile.files(session, ids, found[: len(asked)])
    fit, kept, checked = found[len(asked) :]
    taught = {row.id: courses.course_of(session, row.revision_id) for row in enrolments}
    now = needles.knowing(session, fit[0].id if fit else None, taught.values())
    flights = [StudentFlights(name, taught[name], files[name].history) for name in ids]
    believed = needles.beliefs(kept, flights, now)
    calibration = needles.calibration(checked)
    held = {row.enrolment_id: row for row in kept}
    marks = {
        row.id: (files[row.id], row.revision_id, held.get(row.id), now.fit_id, on, calibration)
        for row in enrolments
    }
    found_before = _remembered(session, marks)
    return [
        Standing(
            enrolment=row,
            course=taught[row.id],
            file=files[row.id],
            on=on,
            fit_id=now.fit_id,
            parameters=now.parameters,
            beliefs=believed.get(row.id),
            checks=calibration,
            found=found_before[row.id],
        )
        for row in enrolments
    ]


def _remembered(session: Session, marks: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """What was worked out of each enrolment under an equal mark: nothing, where it is new."""
    memories: Memories | None = session.info.get(MEMORY)
    known = memories.standings.recall(marks) if memories else {}
    for name in marks.keys() - known.keys():
        known[name] = {}
        if memories:
            memories.standings.keep(name, marks[name], known[name], len(marks[name][0].history))
    return known


def standing(session: Session, enrolment: Enrolment, on: date) -> Standing:
    """The standing of one enrolment."""
    return standings(session, [enrolment], on)[0]
