"""What stands around the lessons: who taught, tests, stage checks, what is on file, totals."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from gradebook import clock
from gradebook.records.copying.lessons import Shown, times
from gradebook.records.copying.papers import Papers
from gradebook.records.lifecycle import EFFECTIVE, as_it_stands
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import FiledEvent, StageApproval
from gradebook.records.values import Times
from gradebook.records.wording import error_words, lesson_title, task_title
from syllabus.course import LessonKind

TEST = "test"
ADDED = tuple(
    one.name
    for one in fields(Times)
    if one.name not in ("test_preparation", "longest_leg_nm", "landing_points")
)
"""What lessons add up to; the longest leg and the like do not."""


def teachers(papers: Papers) -> list[Shown]:
    """Who taught the student, from when to when, and who was principal instructor."""
    return [
        {
            "name": papers.name(held.person_id),
            "number": papers.number(held.person_id),
            "principal": held.principal,
            "since": clock.zulu(held.since),
            "until": clock.zulu(held.until) if held.until else "",
            "entry": papers.entry("enrolment.assign", held.id) or 0,
        }
        for held in sorted(papers.enrolment.teaching, key=lambda held: held.since)
    ]


def totals(papers: Papers) -> list[Shown]:
    """The times and counts of every record that counts, added up."""
    added: dict[str, float] = dict.fromkeys(ADDED, 0)
    for row in papers.records:
        if row.state in EFFECTIVE:
            stored: Mapping[str, Any] = row.times or {}
            for name in ADDED:
                added[name] += stored.get(name) or 0
    flight = added["dual"] + added["solo"]
    whole = {"field": "flight", "words": "Flight time", "kind": "hours", "amount": int(flight)}
    return [whole, *times({name: round(value, 1) for name, value in added.items()})]


def tests(papers: Papers) -> list[Shown]:
    """The names and grades of every test taken: those on file, and the stage checks."""
    rows = [_test_on_file(papers, row) for row in papers.events if row.kind == TEST]
    rows += [
        _check_taken(papers, row)
        for row in papers.records
        if row.kind == LessonKind.STAGE_CHECK and row.state in EFFECTIVE
    ]
    return sorted(rows, key=lambda row: (row["on"], row["entry"]))


def _test_on_file(papers: Papers, row: FiledEvent) -> Shown:
    return {
        "on": row.happened_on.isoformat(),
        "name": _event_words(papers, row),
        "grade": "Passed" if row.passed else "Not passed",
        "words": row.words,
        "by": papers.name(row.filed_by),
        "entry": papers.entry("event.file", row.id) or 0,
    }


def _check_taken(papers: Papers, row: LessonRecord) -> Shown:
    title = lesson_title(papers.courses[row.revision_id], row.lesson)
    attempt = f", attempt {row.attempt}" if row.attempt > 1 else ""
    return {
        "on": str(row.flown_on),
        "name": f"{title}{attempt}",
        "grade": (row.outcome or "").capitalize(),
        "words": "",
        "by": papers.name(row.instructor_id),
        "entry": row.sequence or 0,
    }


def _event_words(papers: Papers, row: FiledEvent) -> str:
    known = (
        event
        for course in papers.courses.values()
        for stage in course.stages
        for event in (*stage.events, *stage.tests)
        if event.code == row.code
    )
    found = next(known, None)
    return found.words if found else row.code


def on_file(papers: Papers) -> list[Shown]:
    """Endorsements, medicals and documents, tests too, as they were put on file."""
    return [
        {
            "kind": row.kind,
            "what": _event_words(papers, row),
            "on": row.happened_on.isoformat(),
            "until": row.expires_on.isoformat() if row.expires_on else "",
            "passed": row.passed,
            "words": row.words,
            "by": papers.name(row.filed_by),
            "number": papers.number(row.filed_by),
            "entry": papers.entry("event.file", row.id) or 0,
        }
        for row in sorted(papers.events, key=lambda row: (row.happened_on, row.filed_at))
    ]


def checks(papers: Papers) -> list[Shown]:
    """Every stage check recommended: who approved it, who conducted it, and why so."""
    rows = sorted(papers.enrolment.approvals, key=lambda row: row.recommended_at)
    return [_check(papers, row) for row in rows]


def _check(papers: Papers, row: StageApproval) -> Shown:
    stage = next((one for one in papers.course.stages if one.code == row.stage), None)
    record = _as_it_stands(papers, row.record_id)
    why = row.snapshot.get("reason")
    return {
        "stage": stage.title if stage else row.stage,
        "recommended_by": papers.name(row.recommended_by),
        "recommended_at": clock.zulu(row.recommended_at),
        "approved_by": papers.name(row.approved_by),
        "approved_at": clock.zulu(row.approved_at) if row.approved_at else "",
        "checker": papers.name(row.checker_id),
        "checker_number": papers.number(row.checker_id),
        "reason": row.reason,
        "not_independent": row.not_independent,
        "missing_then": [str(one) for one in row.snapshot.get("missing", ())],
        **({"recommended_because": str(why)} if why else {}),
        "result": _result(record),
        "on": str(record.flown_on) if record else "",
        "record_entry": (record.sequence or 0) if record else 0,
        "entry": papers.entry("check.recommend", row.id) or 0,
        "approval_entry": papers.entry("check.approve", row.id) or 0,
    }


def _as_it_stands(papers: Papers, record_id: str | None) -> LessonRecord | None:
    """A record, or the newest amendment of it."""
    newest = as_it_stands(record_id or "", papers.records)
    return next((one for one in papers.records if one.id == newest), None)


def _result(record: LessonRecord | None) -> str:
    """How a check ended, and nothing of one that is void."""
    if record is None:
        return ""
    return (record.outcome or "") if record.voided_at is None else "declared void, flown"


def decisions(papers: Papers) -> list[Shown]:
    """Watch items that were closed by decision, and why."""
    return [
        {
            "task": task_title(papers.course, row.task),
            "words": error_words(papers.course, row.task, row.error),
            "on": row.decided_on.isoformat(),
            "by": papers.name(row.decided_by),
            "reason": row.reason,
            "entry": papers.entry("watch.close", row.id) or 0,
        }
        for row in sorted(papers.decisions, key=lambda row: row.decided_at)
    ]


def foreign(papers: Papers) -> list[Shown]:
    """Records of other schools that are kept beside this one; none of them is part of it."""
    return [
        {
            "origin": row.origin,
            "fingerprint": row.fingerprint,
            "sha256": row.sha256,
            "verified": row.verdict == 0,
            "words": row.words,
            "at": clock.zulu(row.taken_at),
            "entry": papers.entry("foreign.take", row.id) or 0,
        }
        for row in sorted(papers.foreign, key=lambda row: row.taken_at)
    ]
