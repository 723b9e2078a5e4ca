"""Where the parts meet."""

from flask import Flask

from gradebook import errors, security
from gradebook.paths import bundled
from gradebook.records.database import Database, open_engine
from gradebook.settings import Settings
from gradebook.views import (
    access,
    addresses,
    admin,
    api,
    audit,
    auth,
    copies,
    day,
    exchange,
    factors,
    filing,
    finding,
    flow,
    foreign,
    health,
    inviting,
    jobs,
    joining,
    keys,
    language,
    ledger,
    lessons,
    looking,
    people,
    phone,
    phones,
    plots,
    pocket,
    readiness,
    records,
    retention,
    roles,
    second,
    sessions,
    signing,
    signs,
    static,
    students,
    syllabus,
    tasks,
    verify,
    watch,
    words,
)
from gradebook.views import page as pages
from gradebook.views.desk import Office

VIEWS = (
    admin, api, audit, auth, copies, day, exchange, factors, filing, finding, flow, foreign,
    health, ledger, inviting, jobs, joining, keys, lessons, people, phone, phones, plots,
    pocket, readiness, records, retention, roles, second, sessions, signing, signs, students,
    syllabus, tasks, verify, watch, words,
)  # fmt: skip


def create_app(settings: Settings) -> Flask:
    """The application of one installation; its database must be at the newest schema.

    ValueError when secrets would be hashed too cheaply.
    """
    if not settings.hash_cost.suffices:
        raise ValueError("secrets would be hashed at less than the least that is accepted")
    app = Flask("gradebook", template_folder=bundled("templates"), static_folder=None)
    app.extensions["windtee"] = Office(settings, Database(open_engine(settings.database)))
    security.install(app, settings)
    language.install(app)
    access.install(app)
    security.check_after_gate(app, api.bp, lessons.bp, signing.bp, flow.bp)
    looking.install(app)
    errors.install(app)
    pages.install(app)
    static.install(app)
    addresses.install(app)
    for view in VIEWS:
        app.register_blueprint(view.bp)
    return app
