"""What every page shares: navigation by role, the reader's name, theme, filters for values."""

from typing import Any

from flask import Flask, g, request, url_for
from jinja2 import StrictUndefined

from gradebook import formats, pictures, words
from gradebook.records.permissions import Action, Relation, Role, may
from gradebook.records.store import enrolments
from gradebook.unindented import Unindented
from gradebook.views import cookies, desk, places
from syllabus.saying import say
from syllabus.units import in_unit, unit_sign

EVERY_RELATION = frozenset(Relation)
NAVIGATION: tuple[tuple[str, str, Action], ...] = (
    (say("Today"), "day.home", Action.HOME_READ),
    (say("Students"), "students.index", Action.STUDENT_READ),
    (say("Readiness"), "readiness.board", Action.BOARD_READ),
    (say("School watch"), "watch.school", Action.SCHOOL_READ),
    (say("Audit"), "audit.index", Action.AUDIT_READ),
    (say("Syllabus"), "syllabus.index", Action.SYLLABUS_READ),
    (say("People"), "people.index", Action.PEOPLE_READ),
    (say("Import"), "exchange.start", Action.IMPORT),
    (say("Retention"), "retention.index", Action.RETENTION_READ),
    (say("Permissions"), "admin.permissions", Action.PERMISSIONS_READ),
    (say("Installation"), "admin.health", Action.HEALTH_READ),
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
    language = words.reader().code
    return {
        "current_person": asking if asking.person_id else None,
        "roles": {role.value for role in asking.roles},
        "is_staff": bool(asking.roles - {Role.STUDENT}),
        "nav": navigation() if asking.person_id else [],
        "may_find": may(asking, Action.STUDENT_READ, EVERY_RELATION)
        and asking.roles != {Role.STUDENT},
        "theme": request.cookies.get(cookies.theme(), "auto"),
        "school_name": school.name if school else "Windtee",
        "wants_factor": desk.wants_factor,
        "demo": desk.office().settings.demo,
        "hours": lambda minutes: formats.hours(minutes, desk.hours_style()),
        "clock": lambda at: formats.clock(at, desk.zone()),
        "moment": lambda at: formats.moment(at, desk.zone()),
        "language": language,
        "script_words": words.for_scripts(language)[0],
        "pictures": pictures,
    }


def install(app: Flask) -> None:
    """Give templates their shared names; an undefined one is an error."""
    app.context_processor(shared)
    app.after_request(places.note)
    app.after_request(desk.settle)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.add_extension(Unindented)
    app.jinja_env.globals.update(in_unit=in_unit, unit_sign=unit_sign)
    app.jinja_env.filters.update(day=formats.day, share=formats.share, chance=formats.chance)
    app.jinja_env.filters.update(utc=formats.utc, amount=formats.amount, span=formats.span)
    app.jinja_env.filters.update(browser=formats.browser, cell=formats.cell)
    app.jinja_env.filters["heads"] = enrolments.heads
    app.jinja_env.globals.update(count=formats.count, decimal=formats.decimal)
