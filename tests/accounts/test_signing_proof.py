"""At a signature: every factor at the first in ten minutes, the secret at each, at no pace."""

import json

import pytest
from sqlalchemy import select

from gradebook.records.act import Act
from gradebook.records.permissions import Action
from gradebook.records.tables.ledger import LedgerEntry
from tests.accounts.holding import enrolled
from tests.card_desk import Desk
from tests.cast import SECRET, TestSchool, Visitor
from tests.walks.test_main_job import FILLED, lesson_form, open_card, sign_first_lesson


class Signing:
    """Ben, holding a code generator, at a finished card."""

    def __init__(self, school: TestSchool) -> None:
        self.school = school
        self.ben, self.generator = enrolled(school, "ben")
        self.record, page = open_card(self.ben, school)
        self.ben.send(f"/lessons/{self.record}", {**FILLED, **lesson_form(page)})

    def amend(self) -> None:
        """Open the amendment of the signed record, which is ready to be signed."""
        path = f"/records/{self.record}/amend"
        self.ben.get(path)
        answer = self.ben.send(path, {"reason": "The hover was better than that."})
        self.record = answer.request.path.rsplit("/", 1)[1]

    def review(self) -> str:
        return self.ben.get(f"/lessons/{self.record}/review")

    def sign(self, status: int, code: str = "", secret: str = SECRET) -> str:
        fields = {**lesson_form(self.review()), "secret": secret, "code": code}
        return self.ben.send(f"/lessons/{self.record}/sign", fields, status).text

    def assurance(self) -> str:
        """What the ledger says of the newest signature of a record."""
        with self.school.database.read() as session:
            query = select(LedgerEntry).where(LedgerEntry.kind == "record.sign")
            row = session.scalars(query.order_by(LedgerEntry.seq.desc())).first()
            assert row is not None
            return str(json.loads(row.statement)["assurance"])


def test_the_first_signature_takes_both_factors(either_strict_school: TestSchool) -> None:
    signing = Signing(either_strict_school)
    assert 'name="code"' in signing.review()
    assert "Use a passkey instead" not in signing.review()
    assert "Show your second factor too" in signing.sign(422)
    assert "This code is not right" in signing.sign(422, "000000")
    code = signing.generator.code()
    assert "This is not the secret" in signing.sign(422, code, "wrong")
    assert "Signed." in signing.sign(200, code)
    assert signing.assurance() == "secret+code"


def test_within_ten_minutes_the_secret_will_do(strict_school: TestSchool) -> None:
    signing = Signing(strict_school)
    signing.sign(200, signing.generator.code())
    strict_school.clock.pass_minutes(10)
    signing.amend()
    assert 'name="code"' not in signing.review()
    signing.sign(422, secret="wrong")
    assert "Signed." in signing.sign(200)
    assert signing.assurance() == "secret+code"


def test_after_ten_minutes_both_are_asked_for_again(strict_school: TestSchool) -> None:
    signing = Signing(strict_school)
    signing.sign(200, signing.generator.code())
    strict_school.clock.pass_minutes(10.5)
    signing.amend()
    assert 'name="code"' in signing.review()
    signing.sign(422)
    signing.sign(200, signing.generator.code())


def test_another_browser_has_no_part_in_the_window(strict_school: TestSchool) -> None:
    signing = Signing(strict_school)
    signing.sign(200, signing.generator.code())
    strict_school.clock.pass_minutes(1)
    signing.ben = strict_school.visitor("ben")
    signing.ben.post("/sign-in/second", code=signing.generator.code())
    signing.amend()
    signing.sign(422)


def test_the_code_of_the_sign_in_does_not_sign(strict_school: TestSchool) -> None:
    signing = Signing(strict_school)
    code = signing.generator.code()
    signing.ben = strict_school.visitor("ben")
    signing.ben.post("/sign-in/second", code=code)
    assert "it was used before" in signing.sign(422, code)


def test_without_a_second_factor_the_secret_signs(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    assert "Unaltered since it was signed." in school.visitor("ben").get(f"/records/{record}")
    with school.database.read() as session:
        query = select(LedgerEntry).where(LedgerEntry.kind == "record.sign")
        said = json.loads(session.scalars(query).one().statement)
    assert said["assurance"] == "secret"


def test_a_right_secret_counts_as_no_failure_though_the_card_is_refused(
    school: TestSchool,
) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    form = {**lesson_form(ben.get(f"/lessons/{record}/review")), "secret": SECRET}
    for _ in range(7):
        stale = ben.send(f"/lessons/{record}/sign", {**form, "version": "1"}, 409)
        assert "review it again" in stale.text
    assert "Signed." in ben.send(f"/lessons/{record}/sign", form).text


def test_a_student_answers_on_the_instructors_phone_with_both_of_their_own_factors(
    strict_school: TestSchool,
) -> None:
    signing = Signing(strict_school)
    _, generator = enrolled(strict_school, "ana")
    signing.sign(200, signing.generator.code())
    path = f"/records/{signing.record}/acknowledge-here"
    page = signing.ben.get(path)
    assert 'name="code"' in page
    assert "data-passkey" not in page
    fields = {"answer": "agree", "secret": SECRET}
    signing.ben.send(path, fields, 422)
    strict_school.clock.pass_minutes(1)
    signing.ben.send(path, {**fields, "code": signing.generator.code()}, 422)
    page = signing.ben.send(path, {**fields, "code": generator.code()}).text
    assert "Acknowledged." in page


def test_an_instructor_cannot_lock_a_student_out_of_answering(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    ben, ana = school.visitor("ben"), school.visitor("ana")
    path = f"/records/{record}/acknowledge-here"
    ben.get(path)
    for _ in range(5):
        ben.send(path, {"answer": "agree", "secret": "wrong"}, 422)
    assert "Wait 1 min" in ben.send(path, {"answer": "agree", "secret": SECRET}, 429).text
    ana.get(f"/records/{record}")
    answer = {"answer": "agree", "secret": SECRET}
    assert "Acknowledged." in ana.send(f"/records/{record}/acknowledge", answer).text


def signed_before(school: TestSchool, times: int) -> None:
    """Let Ben have signed so often in these minutes, by the trail."""
    with school.database.write() as session:
        act: Act = school.act(session, "ben")
        for number in range(times):
            act.note(Action.RECORD_SIGN, f"{number:032}")


@pytest.mark.parametrize(("before", "status"), [(9, 200), (10, 429)])
def test_the_eleventh_signature_in_five_minutes_waits_and_nothing_is_lost(
    either_school: TestSchool, before: int, status: int
) -> None:
    desk = Desk(either_school)
    desk.save()
    signed_before(either_school, before)
    page = desk.sign(status)
    assert ("10 records in five minutes are enough" in page) is (status == 429)
    assert desk.stored().state == ("draft" if status == 429 else "signed")
    assert desk.stored().card["outcome"] == "complete"


def test_after_five_minutes_the_card_is_signed_as_it_was(school: TestSchool) -> None:
    desk = Desk(school)
    desk.save()
    signed_before(school, 10)
    desk.sign(429)
    school.clock.pass_minutes(5)
    desk.sign(200)
    assert desk.stored().state == "signed"


def test_the_pace_of_one_is_not_the_pace_of_another(school: TestSchool) -> None:
    signed_before(school, 10)
    dov: Visitor = school.visitor("dov")
    answer = dov.send(f"/students/{school.stranger_enrolment}/lessons", {"lesson": "s-01"})
    record = answer.request.path.rsplit("/", 1)[1]
    dov.send(f"/lessons/{record}", {**FILLED, **lesson_form(answer.text)})
    opened = lesson_form(dov.get(f"/lessons/{record}/review"))
    dov.send(f"/lessons/{record}/sign", {**opened, "secret": SECRET})
