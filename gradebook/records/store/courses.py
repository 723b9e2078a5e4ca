"""Published revisions, read back into courses. A revision never changes, so it is kept read."""

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.records.faults import UnknownError
from gradebook.records.store.together import Asked
from gradebook.records.tables.training import Revision
from syllabus.course import Course
from syllabus.reading import load_course

_kept: dict[str, Course] = {}


def course_of(session: Session, revision_id: str) -> Course:
    """The course at a revision (content hash); UnknownError when it was never published."""
    if revision_id not in _kept:
        row = session.get(Revision, revision_id)
        if row is None:
            raise UnknownError
        _kept[revision_id] = load_course(json.loads(row.files))
    return _kept[revision_id]


def latest_revisions(session: Session) -> list[Revision]:
    """The newest published revision of each course, by title."""
    rows = session.scalars(select(Revision).order_by(Revision.published_at, Revision.id))
    newest = {row.course: row for row in rows}
    return sorted(newest.values(), key=lambda row: row.title)


PUBLISHED = Asked(select(Revision.id, Revision.published_at))
"""Id and moment of every published revision."""


def in_newest(taught: Sequence[Course], published: Iterable[Any]) -> dict[str, Course]:
    """The courses among these by code, in their order, each in the newest revision of these.

    `published` are rows of `PUBLISHED`.
    """
    since = {row.id: (row.published_at, row.id) for row in published}
    order = sorted(taught, key=lambda course: since[course.revision])
    newest = {course.code: course for course in order}
    return {course.code: newest[course.code] for course in taught}


def revisions(session: Session) -> list[Revision]:
    """Every published revision, newest first."""
    order = Revision.published_at.desc()
    return list(session.scalars(select(Revision).order_by(order, Revision.id)))
