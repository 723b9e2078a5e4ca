"""Where a student stands: history and all that follows from it, read together once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

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
from gradebook.records.remembering import Memories
from gradebook.records.store import courses, needles, onfile
from gradebook.records.store.together import together
from gradebook.records.tables.training import Enrolment
from syllabus.course import Course, Lesson, Stage


@dataclass(frozen=True)
class Standing:
    """One enrolment's file on a day; everything else here is worked out from it when asked."""

    enrolment: Enrolment
    course: Course
    file: readiness.StudentFile
    on: date
    parameters: Parameters
    beliefs: Beliefs | None
    checks: Calibration

    @property
    def history(self) -> values.History:
        """Effective lessons, oldest first."""
        return self.file.history

    @cached_property
    def carried(self) -> tuple[carryover.CarriedTask, ...]:
        """Tasks still open from earlier lessons."""
        return carryover.carried(self.course, self.history)

    @cached_property
    def watch(self) -> tuple[watchitems.WatchItem, ...]:
        """Every watch item, open and closed."""
        return self.file.watch

    @cached_property
    def open_watch(self) -> tuple[watchitems.WatchItem, ...]:
        """Watch items still open."""
        return tuple(item for item in self.watch if item.is_open)

    @cached_property
    def expiring(self) -> tuple[expiry.Expiring, ...]:
        """What on file runs out soon, or just has."""
        return expiry.expiring(self.course, self.file.events, self.on)

    @cached_property
    def next_lesson(self) -> Lesson | None:
        """The lesson that comes next; None at the end of the course."""
        return carryover.next_lesson(self.course, self.history)

    @cached_property
    def lacking(self) -> tuple[str, ...]:
        """What of the course is still missing, in words; graduation waits for it."""
        found = gaps(self.course, self.file, "graduated", self.on)
        return tuple(one.words for one in found if one.blocks)

    @cached_property
    def stage(self) -> Stage:
        """The stage the student is in (the last one at the end of the course)."""
        coming = self.next_lesson
        return self.course.stage_of[coming.code] if coming else self.course.stages[-1]

    @cached_property
    def weak(self) -> tuple[progress.WeakItem, ...]:
        """What holds the student back, the worst first."""
        return progress.weak_items(self.course, self.history, self.watch, self.carried)

    @cached_property
    def needle(self) -> Needle:
        """How likely the student meets the standard, task by task, and what follows."""
        known = (self.course, self.parameters, self.beliefs, self.history, self.on)
        return Needle(*known, self.checks)

    @cached_property
    def suggested(self) -> tuple[Pick, ...]:
        """What to fly next, the most urgent first; nothing at the end of the course."""
        if self.next_lesson is None:
            return ()
        carried = [one.task for one in self.carried]
        watched = [item.task for item in self.open_watch]
        return self.needle.suggest(self.next_lesson, carried, watched)

    @cached_property
    def chance(self) -> CheckChance:
        """The chance of passing the check of the stage the student is in, as it stands."""
        return self.needle.check(self.stage)

    @cached_property
    def stall(self) -> progress.Stall:
        """Days without a flight, and plateaus."""
        return progress.stalled(self.history, self.on)

    @cached_property
    def _judged(self) -> dict[str, values.Readiness]:
        return {}

    def readiness(self, stage: Stage) -> values.Readiness:
        """Every hard requirement of a stage's check as it stands."""
        if stage.code not in self._judged:
            found = readiness.readiness(self.course, stage, self.file, self.on)
            self._judged[stage.code] = found
        return self._judged[stage.code]

    def take_over(self, before: "Standing") -> None:
        """Take what was worked out of another that only the enrolment's row may tell apart."""
        for name, value in vars(before).items():
            vars(self).setdefault(name, value)


def standings(session: Session, enrolments: Sequence[Enrolment], on: date) -> list[Standing]:
    """The standing of each enrolment, in the order given; two statements however many."""
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
    states = [
        Standing(
            enrolment=row,
            course=taught[row.id],
            file=files[row.id],
            on=on,
            parameters=now.parameters,
            beliefs=believed.get(row.id),
            checks=calibration,
        )
        for row in enrolments
    ]
    _remember(session, {one: (files[one], now.fit_id, on, calibration) for one in ids}, states)
    return states


def _remember(session: Session, marks: Mapping[str, object], states: list[Standing]) -> None:
    """Give standings what was worked out of the same before, and keep them for the next."""
    kept: Memories | None = session.info.get(MEMORY)
    known = kept.standings.recall(marks) if kept else {}
    for state in states:
        name = state.enrolment.id
        if name in known:
            state.take_over(known[name])
        if kept:
            kept.standings.keep(name, marks[name], state, state.history)


def standing(session: Session, enrolment: Enrolment, on: date) -> Standing:
    """The standing of one enrolment."""
    return standings(session, [enrolment], on)[0]
