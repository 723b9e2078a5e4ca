"""The whole document: what a copy shows, as the values a portable file can hold."""

from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from gradebook import clock
from gradebook.records.copying import training
from gradebook.records.copying.gaps import Gap, gaps
from gradebook.records.copying.lessons import lessons
from gradebook.records.copying.papers import MEANING, Certification, Papers, Purpose

VERSION = 1
CAUTIONS = (
    "Not for use in flight. Not a substitute for the flight manual, the approved checklist, "
    "the regulations or the judgement of a licensed instructor.",
    "This is no pilot licence, and no proof of recent experience.",
    "The PDF carries no digital signature of its own: it is a picture of the portable file "
    "attached to it, and that file is what can be verified.",
    "Numbers of the regulations are the syllabus's own data, which the school confirms.",
)


def missing(papers: Papers, on: Certification) -> tuple[Gap, ...]:
    """What the record lacks on its last day."""
    today = clock.school_day(on.at, on.zone)
    ended = papers.enrolment.ended_how
    return gaps(papers.course, papers.file, ended, papers.last_day(today))


def shown(papers: Papers, made: Certification) -> dict[str, Any]:
    """Everything a copy shows. No float is in it, so that every reader reads it alike."""
    return {
        "version": VERSION,
        "school": {
            "name": papers.school.name,
            "origin": papers.school.origin,
            "zone": made.zone,
            "hours": papers.school.hours_style,
        },
        "student": {
            "name": papers.enrolment.student.name,
            "number": papers.enrolment.student.certificate,
        },
        "course": _course(papers),
        "enrolment": _enrolment(papers),
        "certificate": _certificate(made),
        "missing": [
            {"words": gap.words, "citation": gap.citation, "blocks": gap.blocks}
            for gap in missing(papers, made)
        ],
        "cautions": list(CAUTIONS),
        "teachers": training.teachers(papers),
        "totals": training.totals(papers),
        "tests": training.tests(papers),
        "lessons": lessons(papers),
        "checks": training.checks(papers),
        "file": training.on_file(papers),
        "decisions": training.decisions(papers),
        "foreign": training.foreign(papers),
    }


def _course(papers: Papers) -> dict[str, Any]:
    course = papers.course
    return {
        "code": course.code,
        "title": course.title,
        "revision": papers.enrolment.revision_id,
        "stages": [
            {
                "title": stage.title,
                "lessons": [f"{one.code.upper()} {one.title}" for one in stage.lessons],
            }
            for stage in course.stages
        ],
    }


def _enrolment(papers: Papers) -> dict[str, Any]:
    row = papers.enrolment
    ended = papers.said.get(("enrolment.end", row.id))
    return {
        "enrolled_on": row.enrolled_on.isoformat(),
        "entry": papers.entry("enrolment.enrol", row.id) or 0,
        "ended_on": row.ended_on.isoformat() if row.ended_on else "",
        "how": row.ended_how or "",
        "reason": str(ended.body.get("reason") or "") if ended else "",
        "end_entry": ended.seq if ended else 0,
    }


def _certificate(made: Certification) -> dict[str, Any]:
    local = made.at.astimezone(ZoneInfo(made.zone))
    ahead = local.utcoffset() or timedelta(0)
    return {
        "purpose": made.purpose.value,
        "by": made.by.name if made.by else "",
        "number": made.by.certificate if made.by else "",
        "post": "" if made.purpose is Purpose.OWN else "Chief instructor",
        "meaning": MEANING[made.purpose],
        "at": clock.zulu(made.at),
        "at_local": f"{local:%Y-%m-%d %H:%M:%S}",
        "offset_minutes": int(ahead.total_seconds() // 60),
    }
