"""Choosing a language, and how dates and hours are written; without script."""

import re
from dataclasses import replace

import pytest

from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.people import Person, School
from gradebook.records.tables.training import StageApproval
from gradebook.words import Language, speaking
from tests.cast import SECRET, TestSchool, Visitor
from tests.language.test_pages import reader
from tests.story import FLOWN, opened, signed

GERMAN = {"language": "de", "dates": "iso", "hours_style": "clock"}


def ben(school: TestSchool, language: str = "") -> Visitor:
    visitor = Visitor(school.app.test_client())
    if language:
        visitor.client.environ_base["HTTP_ACCEPT_LANGUAGE"] = language
    visitor.get("/sign-in")
    visitor.post("/sign-in", email="ben@school.example", secret=SECRET)
    return visitor


def test_a_choice_holds_on_every_device_and_is_in_the_trail(school: TestSchool):
    one = ben(school)
    one.get("/account/reading")
    page = one.send("/account/reading", GERMAN).text
    assert "Ab jetzt spricht und schreibt Windtee, wie Sie gewählt haben." in page
    assert "Wie Sie sich anmelden" in ben(school, "en").get("/account")
    flo = school.visitor("gus")
    assert "language: in German" in flo.get("/audit")


def test_a_choice_outdoes_the_browser_and_the_browser_the_school(school: TestSchool):
    with school.database.write() as session:
        session.query(School).one().language = "de"
    assert '<html lang="de"' in ben(school).get("/")
    assert '<html lang="en-US"' in ben(school, "en-US,en;q=0.9").get("/")
    with school.database.write() as session:
        session.get(Person, school.ids["ben"]).language = "en"
    assert '<html lang="en"' in ben(school, "de").get("/")


def test_dates_and_hours_are_written_as_chosen(school: TestSchool):
    record = signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    visitor = ben(school)
    assert "1.2 h" in visitor.get(f"/records/{record}")
    visitor.get("/account/reading")
    visitor.send("/account/reading", GERMAN)
    page = visitor.get(f"/records/{record}")
    assert "1:12 h" in page
    assert "2026-05-18" in page
    visitor.get("/account/reading")
    visitor.send("/account/reading", {**GERMAN, "hours_style": "", "dates": "words"})
    page = visitor.get(f"/records/{record}")
    assert "1,2 h" in page
    assert "18. Mai 2026" in page


@pytest.mark.parametrize("field", GERMAN)
def test_what_there_is_none_of_is_refused_at_its_field(school: TestSchool, field):
    visitor = ben(school)
    visitor.get("/account/reading")
    page = visitor.send("/account/reading", {**GERMAN, field: "xx"}, 422).text
    assert "Choose one of those shown." in page
    assert f'id="{field}-errors"' in page


def test_the_page_shows_what_is_chosen(school: TestSchool):
    visitor = ben(school)
    visitor.get("/account/reading")
    visitor.send("/account/reading", GERMAN)
    page = visitor.get("/account/reading")
    assert '<option selected value="de">Deutsch</option>' in page
    assert '<option selected value="clock">1:12</option>' in page


def test_hours_may_be_typed_with_a_comma(school: TestSchool):
    draft = opened(school, "ben", "s-01")
    card = replace(FLOWN, times={"dual": "1,2", "ground": "0,5"})
    record = signed(school, "ben", draft, card)
    assert "1.2 h" in school.visitor("ben").get(f"/records/{record}")


def test_what_is_signed_and_kept_stays_english_whoever_signs_it(school: TestSchool):
    visitor = ben(school, "de")
    path = f"/students/{school.enrolment}/readiness/stage-1"
    visitor.get(path)
    assert "Empfohlen. Der Ausbildungsleiter teilt ein" in visitor.post(
        f"{path}/recommend", reason="Weather."
    )
    with school.database.read() as session:
        approval = session.query(StageApproval).one()
        statement = session.query(LedgerEntry).order_by(LedgerEntry.seq.desc()).first()
        event = session.query(AuditEvent).order_by(AuditEvent.id.desc()).first()
        kept = f"{approval.snapshot}{statement.statement}{event.facts}"
    assert "Not graded yet" in kept
    assert re.findall("Noch nicht|Lektion|Übung|Nachweis|nicht", kept) == []


def test_the_answers_to_a_record_are_in_the_reader_s_language(school: TestSchool):
    record = signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    ana = reader(school, "ana")
    page = ana.get(f"/records/{record}")
    assert "Ich bin einverstanden" in page
    assert "Ich bin nicht einverstanden" in page
    assert "I agree" not in page


def test_how_an_enrolment_ended_is_said_in_the_reader_s_language(school: TestSchool):
    cleo = reader(school, "cleo")
    cleo.get(f"/students/{school.enrolment}/end")
    sent = {"how": "transferred", "reason": "Umzug.", "secret": SECRET}
    page = cleo.send(f"/students/{school.enrolment}/end", sent).text
    assert "Die Einschreibung hat geendet: gewechselt." in page


def test_a_moment_in_german_stands_after_am(school: TestSchool):
    page = f"/students/{school.enrolment}/readiness/stage-1"
    visitor = reader(school, "ben")
    visitor.get(page)
    visitor.post(f"{page}/recommend", reason="Freitag.")
    assert "Empfohlen von Ben am 20. Mai 2026" in visitor.get(page)


def test_why_a_task_is_carried_over_is_said_in_the_reader_s_language(school: TestSchool):
    signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    ana = reader(school, "ana")
    page = ana.get(f"/students/{school.enrolment}")
    assert "Übertragen aus First lesson: unter Standard." in page
    assert "below standard" not in page


def test_since_when_a_task_is_open_is_written_as_other_dates_are(school: TestSchool):
    signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    cleo = reader(school, "cleo")
    page = cleo.get(f"/students/{school.enrolment}/end")
    assert "Run-up: unter Standard seit 18. Mai 2026." in page


def test_a_word_in_a_template_is_said_anew_to_each_reader(school: TestSchool):
    with speaking(Language("de")):
        template = school.app.jinja_env.from_string('{{ "passed" | word }}')
        german = template.render()
    assert template.render() == "passed" != german
