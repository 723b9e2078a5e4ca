"""Certifying a record: what the file holds, what is refused, and that it goes on to verify."""

import json
from typing import Any

import pytest
from sqlalchemy import func, select

from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.canonical import MalformedError
from gradebook.records.commands import certifying
from gradebook.records.copying.papers import Purpose
from gradebook.records.copying.shape import read_shown
from gradebook.records.database import migrating
from gradebook.records.faults import ForbiddenError, InvalidError, TornError, UnknownError
from gradebook.records.permissions import Action
from gradebook.records.store import people
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import CertifiedCopy, LedgerCheckpoint
from tests.cast import TestSchool
from tests.copies.paper_trail import (
    amend,
    certify,
    check,
    content,
    end,
    fly,
    void,
    whole_course,
)

Shown = dict[str, Any]


def shown(data: bytes) -> Shown:
    found: Shown = json.loads(data)["shown"]
    return found


def vkey(school: TestSchool) -> str:
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        return row.vkey


def own_copy(school: TestSchool, name: str = "ana") -> bytes:
    with school.database.write() as session:
        act = school.act(session, name)
        return content(certifying.request_own(act, school.enrolment, None))


def refused(school: TestSchool, purpose: Purpose) -> list[str]:
    with pytest.raises(InvalidError) as told:
        certify(school, purpose)
    return [problem.words for problem in told.value.problems]


def test_a_whole_course_is_certified_as_graduated(either_school: TestSchool) -> None:
    school = either_school
    whole_course(school)
    end(school)
    data = certify(school, Purpose.GRADUATION)
    told = verify_bundle(data, vkey(school))
    assert (told.code, told.line[:4]) == (0, "Good")
    paper = read_shown(shown(data))
    assert [gap for gap in paper["missing"] if gap["blocks"]] == []
    assert paper["certificate"]["by"] == "Cleo"
    assert paper["certificate"]["number"] == "C-cleo"
    assert (paper["enrolment"]["how"], paper["enrolment"]["ended_on"]) == (
        "graduated",
        school.clock.at.date().isoformat(),
    )
    with school.database.read() as session:
        row = session.scalars(select(CertifiedCopy)).one()
        assert session.get(LedgerCheckpoint, row.size) is not None
        noted = session.scalars(select(AuditEvent).filter_by(object_id=row.id)).one()
        assert noted.action == Action.CERTIFY.value
        assert noted.facts["purpose"] == "graduation"


def test_records_that_no_longer_count_stand_there_marked(school: TestSchool) -> None:
    whole_course(school)
    lessons = shown(certify(school))["lessons"]
    first = next(one for one in lessons if one["state"] == "superseded")
    again = next(one for one in lessons if one["amends"])
    assert first["superseded_by"] == again["entry"]
    assert again["amends"] == {"entry": first["entry"], "reason": "The landings were four."}
    assert first["remarks"] == "Crosswind é; held well."
    assert {line["field"]: line["amount"] for line in first["times"]}["day_landings"] == 3
    assert {line["field"]: line["amount"] for line in again["times"]}["day_landings"] == 4
    assert again["answer"]["comment"] == "I counted five <landings>."
    assert not again["answer"]["agrees"]
    gone = next(one for one in lessons if one["void"])
    assert gone["void"]["reason"] == "Entered for another student."
    assert [one["counts"] for one in (first, again, gone)] == [False, True, False]


def test_a_stage_check_has_the_result_that_counts(school: TestSchool) -> None:
    failed = fly_check(school, outcome="failed")
    amend(school, failed, "It was passed.", by="eve", outcome="passed")
    paper = shown(certify(school))
    (told,) = paper["checks"]
    (taken,) = paper["tests"]
    assert (told["result"], taken["grade"]) == ("passed", "Passed")
    assert told["record_entry"] == taken["entry"]


def test_a_stage_check_declared_void_has_no_result(school: TestSchool) -> None:
    void(school, fly_check(school), "The wrong student.", by="eve")
    paper = shown(certify(school))
    (told,) = paper["checks"]
    assert (told["result"], paper["tests"]) == ("declared void, flown", [])


def fly_check(school: TestSchool, **changes: object) -> str:
    """Ana's first stage check, before every requirement is met."""
    return check(school, "stage-1", "s-check", "The weather window closes.", **changes)


def test_totals_count_no_hour_twice(school: TestSchool) -> None:
    whole_course(school)
    totals = {one["field"]: one["amount"] for one in shown(certify(school))["totals"]}
    # By hand: five records count; dual 4 x 72 min, solo 54 min, landings 4 + 3 x 3.
    assert (totals["flight"], totals["dual"], totals["solo"]) == (342, 288, 54)
    assert totals["day_landings"] == 4 + 3 * 3


def test_tests_and_checks_are_named_with_their_grades(school: TestSchool) -> None:
    whole_course(school)
    paper = shown(certify(school))
    assert [(one["name"], one["grade"], one["by"]) for one in paper["tests"]] == [
        ("First stage check", "Passed", "Eve"),
        ("Last check", "Passed", "Eve"),
    ]
    last = paper["checks"][-1]
    assert (last["recommended_by"], last["approved_by"], last["checker"]) == (
        "Ben",
        "Cleo",
        "Eve",
    )
    assert last["reason"] == "Reviewed with the instructor."
    assert last["recommended_because"] == "Reviewed with the instructor."
    assert "recommended_because" not in paper["checks"][0]


def test_a_reading_names_the_limits_it_was_held_to(school: TestSchool) -> None:
    fly(school, "s-01", readings={"left-drop": "140", "right-drop": "180"})
    taken = shown(certify(school))["lessons"][0]["readings"]
    limits = "over 0, at most 175 rpm; Magneto difference at most 50 rpm"
    assert [(one["value"], one["within"], one["held_to"]) for one in taken] == [
        ("140", True, limits),
        ("180", False, limits),
    ]


def test_a_file_from_before_limits_were_named_is_read(school: TestSchool) -> None:
    fly(school, "s-01", readings={"left-drop": "140"})
    paper = shown(certify(school))
    del paper["lessons"][0]["readings"][0]["held_to"]
    assert read_shown(paper) == paper
    paper["lessons"][0]["readings"][0]["held_to"] = 175
    with pytest.raises(MalformedError):
        read_shown(paper)


def test_a_graduation_with_gaps_is_refused_with_their_number(school: TestSchool) -> None:
    fly(school, "s-01")
    missing = shown(certify(school))["missing"]
    n = len([gap for gap in missing if gap["blocks"]])
    assert refused(school, Purpose.GRADUATION) == [
        f"A graduation cannot be certified while {n} things that it needs are missing; "
        "the list names them. A copy to date can."
    ]
    with school.database.read() as session:
        assert session.scalar(select(func.count()).select_from(CertifiedCopy)) == 1


def test_a_copy_to_date_says_what_is_missing(school: TestSchool) -> None:
    fly(school, "s-01")
    missing = [gap["words"] for gap in shown(certify(school))["missing"]]
    assert (
        "Second stage, 2 lessons not complete: S-03 Third lesson; S-LAST Last check." in missing
    )
    assert "The enrolment has not ended." in missing


@pytest.mark.parametrize("purpose", [Purpose.TERMINATION, Purpose.TRANSFER])
def test_an_end_that_has_not_come_is_not_certified(
    school: TestSchool, purpose: Purpose
) -> None:
    fly(school, "s-01")
    assert "record its end first" in refused(school, purpose)[0]
    how = {Purpose.TERMINATION: "terminated", Purpose.TRANSFER: "transferred"}
    end(school, how[purpose])
    paper = shown(certify(school, purpose))
    assert (paper["certificate"]["purpose"], paper["enrolment"]["reason"]) == (
        purpose,
        "Moved.",
    )


def test_no_other_purpose_is_certified(school: TestSchool) -> None:
    for purpose in ("", "own copy", "gift"):
        with pytest.raises(InvalidError, match="Choose what"):
            asked(school, "cleo", purpose)


def asked(school: TestSchool, name: str, purpose: str = "copy") -> None:
    with school.database.write() as session:
        wanted = certifying.Certify(school.enrolment, purpose, confirmed=True)
        certifying.certify(school.act(session, name), wanted, None)


def test_only_the_chief_certifies(school: TestSchool) -> None:
    for name, fault in (
        ("ben", ForbiddenError),
        ("gus", ForbiddenError),
        ("dov", UnknownError),
    ):
        with pytest.raises(fault):
            asked(school, name)


def test_a_students_own_copy_is_signed_by_the_school_alone(school: TestSchool) -> None:
    fly(school, "s-01")
    data = own_copy(school)
    assert verify_bundle(data, vkey(school)).code == 0
    certificate = shown(data)["certificate"]
    assert (certificate["purpose"], certificate["by"]) == ("own copy", "")
    fields = json.loads(data)
    last = json.loads(fields["entries"][-1]["entry"])
    assert last["kid"] == fields["keys"][0]["kid"]
    assert fields["keys"][0]["holder"] == "school"


def test_nobody_else_asks_for_a_students_own_copy(school: TestSchool) -> None:
    for name, fault in (("hal", UnknownError), ("ben", ForbiddenError)):
        with pytest.raises(fault):
            own_copy(school, name)


def test_a_copy_made_before_an_amendment_still_verifies(school: TestSchool) -> None:
    first = fly(school, "s-01")
    before = certify(school)
    amend(school, first, "The landings were two.", times={"dual": "1.2", "day_landings": "2"})
    after = certify(school)
    key = vkey(school)
    assert [verify_bundle(one, key).code for one in (before, after)] == [0, 0]
    assert len(shown(before)["lessons"]) == 1
    assert [one["state"] for one in shown(after)["lessons"]] == ["superseded", "signed"]


def test_a_record_that_was_replaced_cannot_be_shown_as_current(school: TestSchool) -> None:
    first = fly(school, "s-01")
    amend(school, first, "The landings were two.")
    fields = json.loads(certify(school))
    said = [json.loads(one["statement"]) for one in fields["entries"]]
    fields["current"] = [one["id"] for one in said if one["type"] == "record.sign"][:1]
    assert verify_bundle(written(fields), vkey(school)).code == 6


def written(fields: Shown) -> bytes:
    return json.dumps(
        fields, ensure_ascii=False, sort_keys=True, separators=(",", ":")
    ).encode()


def test_a_revoked_record_is_not_current_either(school: TestSchool) -> None:
    void(school, fly(school, "s-01"), "Entered for another student.")
    data = certify(school)
    assert json.loads(data)["current"] == []
    assert verify_bundle(data, vkey(school)).code == 0


def test_rows_changed_behind_the_ledger_are_not_certified(school: TestSchool) -> None:
    fly(school, "s-01")
    with migrating(school.database.engine) as connection:
        connection.exec_driver_sql("DROP TRIGGER guard_grade_update")
        connection.exec_driver_sql("UPDATE grade SET level = 'practice'")
        connection.commit()
    with pytest.raises(TornError, match="Nothing is certified"):
        certify(school)
