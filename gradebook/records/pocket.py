"""What a browser needs to judge and state a card by itself, as plain values."""

from collections.abc import Mapping
from typing import Any

from gradebook.records.mirrors import Body
from gradebook.records.rules import Setting
from gradebook.records.tables.lessons import LessonRecord


def setting_json(
    setting: Setting, *, zone: str, hours_style: str, watched: Mapping[str, frozenset[str]]
) -> dict[str, Any]:
    """The setting as plain values."""
    del watched
    return {
        "lesson": {"code": setting.lesson.code},
        "today": setting.today.isoformat(),
        "zone": zone,
        "hours_style": hours_style,
    }


def body_json(record: LessonRecord, *, supersedes: str | None, check: str | None) -> Body:
    """What a draft's statement will say whatever is graded; the rest comes from its card."""
    return {"record": record.id, "supersedes": supersedes, "check": check}
