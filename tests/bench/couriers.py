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

    def __init__(
        self,
        made: DrillSchool,
        address: tuple[str, int],
        name: str,
        drafts: Sequence[Draft],
    ) -> None:
        super().__init__(address, name)
        self.sign_in()
        self.phone = Phone(made.school, name, secrets.token_bytes(32))
        self.phone.off = ticking() - made.school.clock.at
        self.phone.enrol()
        self._letters = {one.record: self._letter(one) for one in drafts}

    def _letter(self, draft: Draft) -> Letter:
        """A draft written and signed over what the server holds of it."""
        with self.phone.school.database.read() as session:
            row = session.get_one(LessonRecord, draft.record)
        return self.phone.letter(
            draft.record,
            card=opening.card_of(row),
            version=draft.version,
            lesson=row.lesson,
            enrolment=draft.enrolment,
        )

    def send(self, draft: Draft) -> Answer:
        """Deliver the letter about a draft."""
        letter = self._letters[draft.record]
        own = {"X-Author": self.phone.person, "X-CSRFToken": self.token}
        path = f"/api/lessons/{letter.record}"
        return self.exchange("PUT", path, letter.data, {**letter.headers, **own})
