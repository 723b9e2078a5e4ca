"""The only place that reads the time."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo


def now() -> datetime:
    """The present moment, aware, UTC."""
    return datetime.now(UTC)  # noqa: TID251 - the one place that may


def school_day(moment: datetime, zone: str) -> date:
    """The calendar day at the school (IANA zone name) at this moment."""
    return moment.astimezone(ZoneInfo(zone)).date()


def zulu(moment: datetime) -> str:
    """A moment as statements write it: UTC, ISO 8601, ending in Z."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
