"""What every page shares: navigation by role, the reader's name, theme, filters for values."""

from typing import Any

from flask import Flask, g, request, url_for
from jinja2 import StrictUndefined

from gradebook import formats, pictures
from gradebook.records.permissions import Action, Relation, Role, may
from gradebook.views import desk

EVERY_RELATION = frozenset(Relation)
NAVIGATION: tuple[tuple[str, str, Action], ...] = (
    ("Today", "day.home", Action.HOME_READ),
    ("Students", "students.index", Action.STUDENT_READ),
    ("Readiness", "readiness.board", Action.BOARD_READ),
    ("School watch", "watch.school", Action.SCHOOL_READ),
    ("Audit", "audit.index", Action.AUDIT_READ),
    ("Syllabus", "syllabus.index", Action.SYLLABUS_READ),
    ("People", "people.index", Action.PEOPLE_READ),
    ("Import", "exchange.start", Action.IMPORT),
    ("Permissions", "admin.permissions", Action.PERMISSIONS_READ),
    ("Installation", "admin.health", Action.HEALTH_READ),
)


def navigation() -> list[tuple[str, str, bool]]:
    """(label, address, whether it is this page) of what this person may open."""
    asking = desk.actor()
    only_student = asking.roles == {Role.STUDENT}
    return [
        (label, url_for(endpoint), request.endpoint == endpoint)
        for label, endpoint, action in NAVIGATION
        if may(asking, action, EVERY_RELATION)
        and not (only_student and endpoint == "students.index")
    ]


def shared() -> dict[str, Any]:
    """Names every template knows."""
    asking = desk.actor()
    school = g.get("school")
    style = school.hours_style if school else "decimal"
    return {
        "current_person": asking if asking.person_id else None,
        "roles": {role.value for role in asking.roles},
        "is_staff": bool(asking.roles - {Role.STUDENT}),
        "nav": navigation() if asking.person_id else [],
        "theme": request.cookies.get("windtee_theme", "auto"),
        "school_name": school.name if school else "Windtee",
        "wants_factor": desk.wants_factor,
        "demo": desk.office().settings.demo,
        "hours": lambda minutes: formats.hours(minutes, style),
        "moment": lambda at: formats.moment(at, desk.zone()),
        "pictures": pictures,
    }


def install(app: Flask) -> None:
    """Give templates their shared names; an undefined one is an error."""
    app.context_processor(shared)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters.update(day=formats.day, share=formats.share, chance=formats.chance)
    app.jinja_env.filters.update(utc=formats.utc, amount=formats.amount, span=formats.span)
    app.jinja_env.globals["count"] = formats.count
