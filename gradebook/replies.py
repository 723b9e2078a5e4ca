"""How a request is answered: as JSON or as a page, and each fault by its HTTP status."""

from flask import request

from gradebook.records.faults import (
    BusyError,
    ConflictError,
    ForbiddenError,
    FullError,
    GoneError,
    InvalidError,
    RecordsError,
    ReusedError,
    SlowDownError,
    TornError,
    UnknownError,
)

STATUS: tuple[tuple[type[RecordsError], int], ...] = (
    (UnknownError, 404),
    (ForbiddenError, 403),
    (ConflictError, 409),
    (GoneError, 410),
    (InvalidError, 422),
    (ReusedError, 422),
    (SlowDownError, 429),
    (TornError, 503),
    (BusyError, 503),
    (FullError, 507),
    (RecordsError, 500),
)


def status_of(fault: RecordsError) -> int:
    """The HTTP status of a fault (RFC 9110, 4918 and 6585)."""
    return next(status for kind, status in STATUS if isinstance(fault, kind))


def retry_after(fault: RecordsError, seconds: int) -> dict[str, str]:
    """The header that says when to try again, where waiting mends the fault.

    `seconds` is for faults that do not say themselves how long it takes.
    """
    if status_of(fault) not in (429, 503):
        return {}
    left = fault.seconds if isinstance(fault, SlowDownError) else seconds
    return {"Retry-After": str(left)}


def wants_json() -> bool:
    """Whether the asker is our script, which takes its answers as JSON."""
    asked = request.headers.get("Accept", "").startswith("application/json")
    return asked or request.path.startswith("/api/")
