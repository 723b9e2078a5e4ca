"""Ben at Ana's first card: filling it, saving it, signing it, reading what the page says."""

import re
from html import unescape

from werkzeug.test import TestResponse

from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, TestSchool, Visitor
from tests.walks.test_main_job import FILLED, lesson_form, open_card

WRONG = re.compile(r"<li>(?:<a [^>]*>)?([^<]+)")


class Desk:
    """Ben at Ana's first card."""

    def __init__(self, school: TestSchool) -> None:
        self.school = school
        self.ben: Visitor = school.visitor("ben")
        self.record, self.page = open_card(self.ben, school)

    def send(self, status: int = 200, **changes: str | None) -> TestResponse:
        """Send the filled card with changes (`__` for a hyphen); None leaves a field out."""
        opened = lesson_form(self.ben.get(f"/lessons/{self.record}"))
        changed = {name.replace("__", "-"): words for name, words in changes.items()}
        fields: dict[str, str | None] = {**FILLED, **opened, "do": "save", **changed}
        kept = {name: words for name, words in fields.items() if words is not None}
        return self.ben.send(f"/lessons/{self.record}", kept, status)

    def save(self, status: int = 200, **changes: str | None) -> str:
        """The page after sending the card."""
        return self.send(status, **changes).text

    def review(self) -> str:
        """The page before the signature."""
        return self.ben.get(f"/lessons/{self.record}/review")

    def sign(self, status: int = 200) -> str:
        """Sign the card as it stands saved."""
        opened = {"version": str(self.stored().version)}
        path = f"/lessons/{self.record}/sign"
        return self.ben.send(path, {**opened, "secret": SECRET}, status).text

    def stored(self) -> LessonRecord:
        """The record as the database holds it."""
        with self.school.database.read() as session:
            row = session.get(LessonRecord, self.record)
            assert row is not None
            return row


def said(page: str) -> list[str]:
    """What the summary of a page says is wrong."""
    summary = re.search(r'<div class="summary" role="alert".*?</div>', page, re.DOTALL)
    return [words.strip() for words in WRONG.findall(unescape(summary[0]))] if summary else []
