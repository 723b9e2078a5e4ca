"""A school where everything that can be signed has been, through the commands alone."""

from dataclasses import replace
from datetime import date
from typing import Any

from gradebook.records.card import Card, Entry
from gradebook.records.commands import answering, checks, enrolling, opening, roles, signing
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.training import Teaching
from tests.cast import TestSchool

FLOWN = Card(
    flown_on="2026-05-18",
    aircraft="invented",
    ident="KM-H1",
    entries=(
        Entry("preflight", "perform", "Took his time: café first.", ("PF-04", "PF-01")),
        Entry("run-up", "explain", "", ("RU-04", "RU-03")),
        Entry("hover", "explain", together=True),
    ),
    readings={"left-drop": "140", "right-drop": "165"},
    times={
        "dual": "1.2",
        "ground": "0:30",
        "day_landings": "3",
        "distance_nm": "52.5",
        "test_preparation": "y",
    },
    remarks="Wind 12 kt.",
    outcome="complete",
    next_lesson="s-02",
)
MET = replace(
    FLOWN,
    flown_on="2026-05-19",
    entries=tuple(
        Entry(task, "perform") for task in ("preflight", "run-up", "hover", "shutdown")
    ),
)
CHECKED = replace(
    MET,
    flown_on="2026-05-20",
    entries=(Entry("preflight", "perform"), Entry("run-up", "perform")),
    outcome="passed",
    next_lesson="",
)


def done(school: TestSchool, who: str, command: Any, what: Any) -> Any:
    """One act of somebody, committed; a minute passes."""
    with school.database.write() as session:
        found = command(school.act(session, who), what)
    school.clock.pass_minutes(1)
    return found


def signed(school: TestSchool, who: str, draft: Any, card: Card) -> str:
    """Somebody fills a draft and signs it; the record's id."""
    saved = opening.SaveCard(draft.id, draft.version, card)
    version = done(school, who, opening.save_card, saved).version
    record = done(school, who, signing.sign_record, signing.SignRecord(draft.id, version))
    return str(record.id)


def opened(school: TestSchool, who: str, lesson: str, enrolment: str = "") -> Any:
    """A new draft."""
    wanted = opening.OpenRecord(enrolment or school.enrolment, lesson)
    return done(school, who, opening.open_record, wanted)


def tell(school: TestSchool) -> dict[str, str]:
    """Let it all happen; the records by what became of each."""
    ana, hal = school.enrolment, school.stranger_enrolment
    answer, see = answering.acknowledge, answering.Acknowledge
    first = signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    done(school, "ana", answer, see(first, False, "Windy, and late."))
    draft = done(school, "ben", answering.amend_record, answering.Amend(first, "Hover better."))
    better = (*FLOWN.entries[:2], Entry("hover", "practice"))
    amended = signed(school, "ben", draft, replace(FLOWN, entries=better))
    second = signed(school, "ben", opened(school, "ben", "s-02"), MET)
    done(school, "ana", answer, see(second, True, ""))
    void = signed(school, "dov", opened(school, "dov", "s-01", hal), FLOWN)
    done(school, "dov", answering.void_record, answering.Void(void, "The wrong student."))
    medical = checks.FileEvent(
        ana, "medical", "medical", date(2026, 5, 1), date(2027, 5, 1), True, "Class 2"
    )
    done(school, "ben", checks.file_event, medical)
    asked = done(school, "ben", checks.recommend, checks.Recommend(ana, "stage-1", "Weather."))
    assigned = checks.Approve(ana, asked.id, school.ids["eve"], "Wants to go on.")
    done(school, "cleo", checks.approve, assigned)
    check = signed(school, "eve", opened(school, "eve", "s-check"), CHECKED)
    closed = checks.CloseWatch(ana, "preflight", "PF-04", "Shown twice without.")
    done(school, "ben", checks.close_watch, closed)
    _change_posts(school)
    opened(school, "ben", "s-03")
    done(school, "ben", checks.recommend, checks.Recommend(ana, "stage-2", "Booked."))
    return {
        "superseded": first,
        "amended": amended,
        "acknowledged": second,
        "void": void,
        "check": check,
    }


def _change_posts(school: TestSchool) -> None:
    """Dov becomes a check instructor and stops teaching Hal, whose training ends."""
    hal = school.stranger_enrolment
    for command, what in (
        (enrolling.assign, enrolling.Assign(hal, school.ids["ben"], principal=True)),
        (enrolling.assign, enrolling.Assign(hal, school.ids["cleo"])),
        (enrolling.assign, enrolling.Assign(hal, school.ids["cleo"], end=True)),
        (
            enrolling.end_enrolment,
            enrolling.End(hal, "transferred", date(2026, 5, 20), "Moves north."),
        ),
    ):
        done(school, "cleo", command, what)
    with school.database.write() as session:
        act = school.act(session, "flo")
        person = people.person(session, school.ids["dov"])
        roles.grant(act, person, Role.CHECK_INSTRUCTOR)
        roles.revoke(act, person, Role.INSTRUCTOR)
        assert session.query(Teaching).count() == 4
