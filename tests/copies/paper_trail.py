"""Ana's whole training: an amendment, a void record, a disagreement, checks, her file."""

from dataclasses import replace

from gradebook.records.card import Card, Entry
from gradebook.records.commands import (
    answering,
    certifying,
    checks,
    enrolling,
    opening,
    signing,
)
from gradebook.records.commands.certifying import Issued
from gradebook.records.copying.papers import Purpose
from gradebook.records.store import copies
from tests.cast import TestSchool


def fly(school: TestSchool, lesson: str, by: str = "ben", **changes: object) -> str:
    """Somebody flies a lesson with Ana, signs it, and she agrees; a day passes. Its id."""
    with school.database.write() as session:
        act = school.act(session, by)
        draft = opening.open_record(act, opening.OpenRecord(school.enrolment, lesson))
        setting = opening.setting_of(session, draft, act)
        entries = tuple(Entry(one.task, "perform") for one in setting.tasks)
        check = draft.kind == "stage-check"
        card = Card(
            entries=entries,
            times={"dual": "1.2", "ground": "0:30", "day_landings": "3"},
            flown_on=school.clock.at.date().isoformat(),
            outcome="passed" if check else "complete",
            aircraft="invented",
            ident="KM-H1",
        )
        draft = opening.save_card(
            act, opening.SaveCard(draft.id, draft.version, replace(card, **changes))
        )
        record = signing.sign_record(act, signing.SignRecord(draft.id, draft.version))
        name = record.id
    answer(school, name)
    school.clock.pass_days(1)
    return name


def answer(school: TestSchool, record: str, comment: str = "") -> None:
    """Ana agrees with a record, or disagrees with these words."""
    with school.database.write() as session:
        ana = school.act(session, "ana")
        answering.acknowledge(ana, answering.Acknowledge(record, not comment, comment))


def amend(
    school: TestSchool, record: str, reason: str, by: str = "ben", **changes: object
) -> str:
    """Whoever signed a record amends it; the new one, which Ana has not seen."""
    with school.database.write() as session:
        act = school.act(session, by)
        draft = answering.amend_record(act, answering.Amend(record, reason))
        card = replace(opening.card_of(draft), **changes)
        draft = opening.save_card(act, opening.SaveCard(draft.id, draft.version, card))
        return signing.sign_record(act, signing.SignRecord(draft.id, draft.version)).id


def void(school: TestSchool, record: str, reason: str, by: str = "ben") -> None:
    """Whoever signed a record declares it void."""
    with school.database.write() as session:
        answering.void_record(school.act(session, by), answering.Void(record, reason))


def put_on_file(school: TestSchool, code: str, kind: str, words: str = "") -> None:
    """Ben puts something on Ana's file."""
    with school.database.write() as session:
        day = school.clock.at.date()
        filed = checks.FileEvent(school.enrolment, kind, code, day, None, True, words)
        checks.file_event(school.act(session, "ben"), filed)


def check(
    school: TestSchool, stage: str, lesson: str, reason: str = "", **changes: object
) -> str:
    """Ben recommends, Cleo approves, Eve checks: passed, unless the changes say otherwise."""
    with school.database.write() as session:
        asked = checks.recommend(
            school.act(session, "ben"), checks.Recommend(school.enrolment, stage, reason)
        )
        eve = school.ids["eve"]
        checks.approve(
            school.act(session, "cleo"), checks.Approve(school.enrolment, asked.id, eve, reason)
        )
    return fly(school, lesson, "eve", **changes)


def whole_course(school: TestSchool) -> None:
    """Everything the small course asks, with an amendment, a void record and a disagreement."""
    first = fly(school, "s-01", remarks="Crosswind é; held well.")
    fly(school, "s-02")
    put_on_file(school, "medical", "medical", "Class 2")
    check(school, "stage-1", "s-check")
    again = amend(
        school, first, "The landings were four.", times={"dual": "1.2", "day_landings": "4"}
    )
    answer(school, again, "I counted five <landings>.")
    twice = fly(school, "s-03", times={"solo": "0.8"})
    void(school, twice, "Entered for another student.")
    fly(school, "s-03", times={"solo": "0.9"})
    check(school, "stage-2", "s-last", "Reviewed with the instructor.")


def end(school: TestSchool, how: str = "graduated") -> None:
    """Cleo ends Ana's enrolment."""
    with school.database.write() as session:
        day = school.clock.at.date()
        ending = enrolling.End(
            school.enrolment, how, day, "" if how == "graduated" else "Moved."
        )
        enrolling.end_enrolment(school.act(session, "cleo"), ending)


def certify(school: TestSchool, purpose: Purpose = Purpose.COPY) -> bytes:
    """Cleo certifies Ana's record; the portable file."""
    with school.database.write() as session:
        wanted = certifying.Certify(school.enrolment, purpose.value, confirmed=True)
        issued = certifying.certify(school.act(session, "cleo"), wanted, None)
        return content(issued)


def content(issued: Issued) -> bytes:
    """The portable file of a copy."""
    return copies.unpack(issued.copy.content)
