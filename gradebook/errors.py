"""Every fault as one kind of answer: a page that says what happened and what to do."""

from dataclasses import asdict
from http import HTTPStatus

from flask import Flask, g, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from gradebook.records.faults import InvalidError, RecordsError
from gradebook.replies import retry_after, status_of, wants_json
from syllabus.saying import say

WORDS = {
    400: say("The form had expired. Go back, reload the page and send it again."),
    403: say("Your role does not allow this."),
    404: say("There is nothing here, or nothing you may see."),
    405: say("This address cannot be used that way."),
    409: say("Somebody was quicker."),
    413: say("This is too large: a file to import may hold 10 MiB, a form 1 MiB."),
    500: say("Something went wrong on our side. Nothing was half-written; try again."),
}
TITLES = {
    400: say("The form has expired"),
    403: say("Not allowed"),
    404: say("Nothing here"),
    405: say("Not this way"),
    409: say("Conflict"),
    410: say("Gone"),
    413: say("Too large"),
    422: say("Not possible so"),
    429: say("Too many attempts"),
    500: say("Our fault"),
    503: say("Not available now"),
    507: say("No room left"),
}
HINTS = {
    403: say("An administrator gives roles, and a second person confirms them."),
    404: say("The address may be old, or it is about somebody who is not assigned to you."),
}
PASSING = (429, 500, 503, 507)
"""What may be over when the page is asked for again."""
RETRY_SECONDS = 10

Answer = tuple[str | dict[str, object], int]
Told = tuple[str | dict[str, object], int, dict[str, str]]


def answer(status: int, words: str = "") -> Answer:
    """The page (or JSON for our script) for a status."""
    said = words or WORDS.get(status) or TITLES.get(status, HTTPStatus(status).phrase)
    if wants_json():
        return {"error": said}, status
    number = g.get("request_id", "") if status == HTTPStatus.INTERNAL_SERVER_ERROR else ""
    title = TITLES.get(status, HTTPStatus(status).phrase)
    page = render_template(
        "errors/page.html",
        status=status,
        title=title,
        words=said,
        hint=HINTS.get(status),
        number=number,
        again=request.url if status in PASSING and request.method == "GET" else None,
    )
    return page, status


def _records_fault(fault: RecordsError) -> Told:
    said, status = answer(status_of(fault), fault.words)
    if isinstance(said, dict) and isinstance(fault, InvalidError):
        said["problems"] = [asdict(problem) for problem in fault.problems]
    return said, status, retry_after(fault, RETRY_SECONDS)


def _http_fault(fault: HTTPException) -> Answer:
    return answer(fault.code or 500)


def _csrf_fault(fault: CSRFError) -> Answer:
    del fault
    return answer(400)


def install(app: Flask) -> None:
    """Answer every fault in the product's own words."""
    app.register_error_handler(RecordsError, _records_fault)
    app.register_error_handler(CSRFError, _csrf_fault)
    app.register_error_handler(HTTPException, _http_fault)
