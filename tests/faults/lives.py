"""The record's life as a machine: anybody does anything at any time, and nothing goes wrong."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from gradebook.records.act import Act
from gradebook.records.card import Card
from gradebook.records.commands import answering, checks, enrolling, opening, signing
from gradebook.records.faults import RecordsError
from gradebook.records.permissions import Action
from gradebook.records.store import lessons
from tests.cast import MORNING
from tests.faults.model import CHECK, CHIEF, LESSONS, STAFF, TEACH, Check, Model, Record
from tests.faults.seeing import Seen, look, look_closely
from tests.faults.world import PEOPLE, World, card_of, pattern

LEGAL = st.integers(0, 9).map(lambda dice: dice > 0)
"""Nine times of ten somebody who may: else no long life is ever lived."""
FRESH = st.integers(0, 9).map(lambda dice: dice == 0)
SOME = st.integers(0, 2).map(lambda dice: dice == 0)
CHECKED = st.sampled_from(("eve", "ivo", "ben", CHIEF))
PICK = st.integers(0, 1000)
ANYBODY = st.sampled_from(PEOPLE)
STUDENT = st.integers(0, 5).map(lambda dice: "hal" if dice == 5 else "ana")
CLOSELY = 6
"""Every so many acts the whole database is proven."""


class Life(RuleBasedStateMachine):
    """Acts by legal and other actors, replays, clock steps; after each, all is as modelled."""

    lives: ClassVar[int] = 0
    acts: ClassVar[int] = 0

    def __init__(self) -> None:
        super().__init__()
        type(self).lives += 1
        self.world, self.model = World(), _begun()
        self.seen: Seen = look(self.world.database)
        self.done = 0

    def teardown(self) -> None:
        """A last close look, then the school is thrown away."""
        try:
            look_closely(self.world.database)
        finally:
            self.world.close()

    def _do(self, who: str, expected: bool | None, act: Callable[..., Any], states: int) -> Any:
        """Try an act; what it made, or None when it was refused. Then look around."""
        type(self).acts += 1
        made = self.world.attempt(who, act)
        happened = not isinstance(made, RecordsError)
        if expected is not None:
            words = f"{who} was {'let' if happened else 'not let'}: {made!r}"
            assert happened == expected, words
        now = look(self.world.database)
        now.goes_on(self.seen, states if happened else 0)
        self.seen = now
        return made if happened else None

    def _compare(self) -> None:
        wanted = {one.id: one.state for one in self.model.records.values()}
        assert self.seen.states == wanted
        self.done += 1
        if self.done % CLOSELY == 0:
            look_closely(self.world.database)

    def _one(self, pick: int, *states: str) -> Record:
        """A record: one in these states, when there is one; every eighth time any at all."""
        every = list(self.model.records.values())
        fitting = [one for one in every if one.state in states]
        choice = fitting if fitting and pick % 8 else every
        return choice[pick % len(choice)]

    def _who(self, legal: bool, other: str, *may: str) -> str:
        return may[0] if legal and may else other

    def _any(self) -> bool:
        return bool(self.model.records)

    @rule(legal=LEGAL, other=ANYBODY, student=STUDENT, pick=PICK)
    def open(self, legal: bool, other: str, student: str, pick: int) -> None:
        """Open a card."""
        checked = [one for one in STAFF if self.model.assigned(one, student)]
        lesson = CHECK if checked and pick % 3 else LESSONS[pick % len(LESSONS)]
        teachers = (*TEACH[student], CHIEF)
        may = checked if lesson == CHECK else [teachers[pick % len(teachers)]]
        who = self._who(legal, other, *may)
        expected = self.model.may_open(who, student, lesson)
        command = opening.OpenRecord(pattern().enrolments[student], lesson)
        made = self._do(who, expected, lambda act: opening.open_record(act, command), 0)
        if made is not None:
            known = self.model.draft_of(who, student, lesson)
            assert known is None or known.id == made.id
            fresh = Record(made.id, student, lesson, who)
            self.model.records.setdefault(made.id, fresh)
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK, stale=SOME, met=st.booleans())
    def save(self, legal: bool, other: str, pick: int, stale: bool, met: bool) -> None:
        """Fill a card in."""
        record = self._one(pick, "draft")
        who = self._who(legal, other, record.author)
        version = record.version - stale
        expected = self.model.may_save(who, record, stale=stale)

        def act(now: Any) -> Any:
            row = lessons.lesson_record(now.session, now.actor, Action.RECORD_GRADE, record.id)
            card = card_of(opening.setting_of(now.session, row, now), now.today, met=met)
            return opening.save_card(now, opening.SaveCard(record.id, version, card))

        if (made := self._do(who, expected, act, 0)) is not None:
            record.version = made.version
            record.flown_on = self.world.at.date()
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK, stale=SOME)
    def sign(self, legal: bool, other: str, pick: int, stale: bool) -> None:
        """Sign, or sign once more what is signed."""
        record = self._one(pick, "draft")
        who = self._who(legal, other, record.author)
        today = self.world.at.date()
        expected = self.model.may_sign(who, record, stale=stale, today=today)
        command = signing.SignRecord(record.id, record.version - stale)
        if (
            self._do(who, expected, lambda act: signing.sign_record(act, command), 1)
            is not None
        ):
            record.state = "signed"
            if record.supersedes is not None:
                record.supersedes.state = "superseded"
            elif record.lesson == CHECK and (used := self.model.assigned(who, record.student)):
                used.used = True
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK, agrees=st.booleans())
    def answer(self, legal: bool, other: str, pick: int, agrees: bool) -> None:
        """Acknowledge or disagree."""
        record = self._one(pick, "signed")
        who = self._who(legal, other, record.student)
        command = answering.Acknowledge(record.id, agrees, "" if agrees else "No.")
        expected = self.model.may_answer(who, record)
        if (
            self._do(who, expected, lambda act: answering.acknowledge(act, command), 1)
            is not None
        ):
            record.state = "acknowledged"
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK)
    def amend(self, legal: bool, other: str, pick: int) -> None:
        """Open an amendment."""
        record = self._one(pick, "signed", "acknowledged")
        who = self._who(legal, other, CHIEF if pick % 3 == 0 else record.author)
        expected = self.model.may_amend(who, record)
        command = answering.Amend(record.id, "Misread.")
        made = self._do(who, expected, lambda act: answering.amend_record(act, command), 0)
        if made is not None:
            copied = replace(record, id=made.id, author=who, state="draft", version=1)
            copied.supersedes = record
            self.model.records[made.id] = copied
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK, really=SOME)
    def void(self, legal: bool, other: str, pick: int, really: bool) -> None:
        """Declare void; seldom, or nothing would be left."""
        record = self._one(pick, "signed", "acknowledged")
        if not really and record.counts and legal:
            return
        who = self._who(legal, other, record.author)
        command = answering.Void(record.id, "Wrong student.")
        expected = self.model.may_void(who, record)
        if (
            self._do(who, expected, lambda act: answering.void_record(act, command), 1)
            is not None
        ):
            record.state = "void"
        self._compare()

    @precondition(_any)
    @rule(legal=LEGAL, other=ANYBODY, pick=PICK, really=FRESH)
    def discard(self, legal: bool, other: str, pick: int, really: bool) -> None:
        """Throw a draft away; seldom too."""
        record = self._one(pick, "draft")
        if not really and record.state == "draft":
            return
        who = self._who(legal, other, record.author)
        expected = self.model.may_discard(who, record)
        done = self._do(who, expected, lambda act: opening.discard_record(act, record.id), 0)
        if done is not None:
            del self.model.records[record.id]
        self._compare()

    @precondition(_any)
    @rule(who=ANYBODY, pick=PICK)
    def read(self, who: str, pick: int) -> None:
        """Look at a record."""
        record = self._one(pick, "signed", "acknowledged", "superseded", "void")

        def act(now: Any) -> Any:
            return lessons.lesson_record(now.session, now.actor, Action.RECORD_READ, record.id)

        self._do(who, self.model.sees(who, record), act, 0)

    @rule(legal=LEGAL, other=ANYBODY, student=st.sampled_from(("hal", "ana")), pick=PICK)
    def recommend(self, legal: bool, other: str, student: str, pick: int) -> None:
        """Recommend for the stage check."""
        who = self._who(legal, other, TEACH[student][pick % 3 > 0])
        expected = self.model.may_recommend(who, student)
        command = checks.Recommend(pattern().enrolments[student], "stage-1", "Early.")
        made = self._do(who, expected, lambda act: checks.recommend(act, command), 1)
        if made is not None:
            self.model.checks[made.id] = Check(made.id, student, who)

    @precondition(lambda self: any(not one.used for one in self.model.checks.values()))
    @rule(legal=LEGAL, other=ANYBODY, checker=CHECKED, pick=PICK)
    def approve(self, legal: bool, other: str, checker: str, pick: int) -> None:
        """Approve a stage check and assign it."""
        waiting = [one for one in self.model.checks.values() if not one.used]
        check = waiting[-1 - pick % len(waiting)]
        checker = check.by if pick % 3 == 0 else checker
        who = self._who(legal, other, CHIEF)
        expected = self.model.may_approve(who, check, checker)
        ids = pattern().ids
        command = checks.Approve(
            pattern().enrolments[check.student], check.id, ids[checker], "Weather to come."
        )
        if self._do(who, expected, lambda act: checks.approve(act, command), 1) is not None:
            check.checker = checker

    @rule(legal=LEGAL, other=ANYBODY, student=STUDENT, really=FRESH)
    def end(self, legal: bool, other: str, student: str, really: bool) -> None:
        """End an enrolment; seldom."""
        who = self._who(legal, other, CHIEF)
        if who == CHIEF and not really:
            return
        expected = who == CHIEF and student not in self.model.ended
        command = enrolling.End(
            pattern().enrolments[student], "terminated", self.world.at.date(), "Moved away."
        )
        if (
            self._do(who, expected, lambda act: enrolling.end_enrolment(act, command), 1)
            is not None
        ):
            self.model.ended.add(student)

    @precondition(_any)
    @rule(pick=PICK)
    def trespass(self, pick: int) -> None:
        """Whoever may not do something to a record, tries: every one, every act."""
        every = list(self.model.records.values())
        record, today = every[pick % len(every)], self.world.at.date()
        for name, tried in TRIED.items():
            for who in PEOPLE:
                if not self.model.may(name, who, record, today):
                    self._refused(who, tried(record), name)
        self._nothing_happened()

    @rule(student=STUDENT, lesson=st.sampled_from(("s-01", CHECK)))
    def intrude(self, student: str, lesson: str) -> None:
        """Whoever may not open a lesson's card, or end the training, tries: every one."""
        enrolment = pattern().enrolments[student]
        card = opening.OpenRecord(enrolment, lesson)
        end = enrolling.End(enrolment, "terminated", self.world.at.date(), "Moved away.")
        for who in PEOPLE:
            if not self.model.may_open(who, student, lesson):
                self._refused(who, lambda act: opening.open_record(act, card), "open")
            if who != CHIEF:
                self._refused(who, lambda act: enrolling.end_enrolment(act, end), "end")
        self._nobody_checks_whom_they_recommended()
        self._nothing_happened()

    def _nobody_checks_whom_they_recommended(self) -> None:
        for check in self.model.checks.values():
            if not check.used and check.by != CHIEF:
                enrolment, by = pattern().enrolments[check.student], pattern().ids[check.by]
                wanted = checks.Approve(enrolment, check.id, by, "Weather to come.")
                tried = partial(checks.approve, command=wanted)
                self._refused(CHIEF, tried, "assign the check to its recommender")

    def _refused(self, who: str, act: Callable[..., Any], name: str) -> None:
        type(self).acts += 1
        made = self.world.attempt(who, act)
        assert isinstance(made, RecordsError), f"{who} was let {name}: {made!r}"

    def _nothing_happened(self) -> None:
        now = look(self.world.database)
        now.goes_on(self.seen, 0)
        self.seen = now
        self._compare()

    @rule(days=st.sampled_from((1, 1, 5, 40, -2)))
    def clock(self, days: int) -> None:
        """The clock goes on, or is set back."""
        self.world.at += timedelta(days=days)


TRIED: Mapping[str, Callable[[Record], Callable[[Act], Any]]] = {
    "save": lambda one: (
        lambda act: opening.save_card(act, opening.SaveCard(one.id, one.version, Card()))
    ),
    "sign": lambda one: (
        lambda act: signing.sign_record(act, signing.SignRecord(one.id, one.version))
    ),
    "answer": lambda one: (
        lambda act: answering.acknowledge(act, answering.Acknowledge(one.id, True, ""))
    ),
    "amend": lambda one: (
        lambda act: answering.amend_record(act, answering.Amend(one.id, "Misread."))
    ),
    "void": lambda one: (
        lambda act: answering.void_record(act, answering.Void(one.id, "Wrong student."))
    ),
    "discard": lambda one: lambda act: opening.discard_record(act, one.id),
}


def _begun() -> Model:
    """What every copy of the pattern begins with."""
    made = Model()
    made.checks[pattern().check] = Check(pattern().check, "ana", "ben", "eve")
    for one in pattern().begun:
        known = Record(one.id, one.student, one.lesson, one.author, one.state, one.version)
        empty = (one.state, one.version) == ("draft", 1)
        known.flown_on = None if empty else MORNING.date()
        known.supersedes = made.records.get(one.supersedes or "")
        made.records[one.id] = known
    return made
