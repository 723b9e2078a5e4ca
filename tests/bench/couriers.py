"""Phones with letters ready, each signed by a key that only its phone holds."""

import secrets
from collections.abc import Sequence

from gradebook.records.commands import opening
from gradebook.records.store.lessons import LessonRecord
from tests.faults.clients import Answer, Browser
from tests.faults.drillschool import Draft, DrillSchool, ticking
from tests.phone_desk import Letter, Phone


class Courier(Browser):
    """A signed-in phone that delivers its letters; the secret is asked for by nobody."""

    def __init__(self, made: DrillSchool, address: tuple[str, int], name: str) -> None:
        super().__init__(address, name)
        self.sign_in()
        self.phone = Phone(made.school, name, secrets.token_bytes(32))
        self.phone.off = ticking() - made.school.clock.at
        self.phone.enrol()
        self._letters: dict[str, Letter] = {}

    def write(self, drafts: Sequence[Draft]) -> None:
        """Write and sign these drafts, each over what the server holds of it."""
        with self.phone.school.database.read() as session:
            rows = [session.get_one(LessonRecord, one.record) for one in drafts]
        for draft, row in zip(drafts, rows, strict=True):
            self._letters[draft.record] = self.phone.letter(
                draft.record,
                card=opening.card_of(row),
                version=draft.version,
                lesson=row.lesson,
                enrolment=draft.enrolment,
            )

    def send(self, draft: Draft) -> Answer:
        """Deliver the letter about a draft."""
        letter = self._letters[draft.record]
        headers = {
            "Idempotency-Key": letter.key,
            "If-Match": f'"{letter.version}"',
            "X-Age-Ms": "0",
            "X-Author": self.phone.person,
            "X-CSRFToken": self.token,
            "Content-Type": "application/json",
        }
        return self.exchange("PUT", f"/api/lessons/{letter.record}", letter.data, headers)
