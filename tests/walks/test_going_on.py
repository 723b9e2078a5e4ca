"""Going on where one was: the page last looked at, the filters last chosen."""

from gradebook.records.commands import enrolling
from tests.cast import TestSchool
from tests.walks.test_main_job import open_card, sign_first_lesson

LAST = "Go on where you were"


def test_the_day_leads_back_to_the_page_looked_at_last(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    ben = school.visitor("ben")
    assert LAST not in ben.get("/")
    ben.get(f"/students/{school.enrolment}/tasks/hover")
    assert f'<a href="/students/{school.enrolment}/tasks/hover">{LAST}: Ana</a>' in ben.get("/")
    ben.get(f"/records/{record}")
    assert f'<a href="/records/{record}">{LAST}: Ana</a>' in ben.get("/")


def test_nobody_is_led_back_to_somebody_who_is_not_theirs_any_more(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.get(f"/students/{school.enrolment}")
    with school.database.write() as session:
        chief = school.act(session, "cleo")
        enrolling.assign(chief, enrolling.Assign(school.enrolment, school.ids["ben"], end=True))
    page = ben.get("/")
    assert LAST not in page
    assert "Ana" not in page


def test_two_people_at_one_browser_do_not_meet_each_others_places(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.get(f"/students/{school.enrolment}")
    ben.post("/sign-out")
    ben.post("/sign-in", email="cleo@school.example", secret="a sentence for the tests")
    page = ben.get("/")
    assert "Cleo" in page
    assert LAST not in page


def test_the_newest_draft_comes_first(school: TestSchool) -> None:
    ben = school.visitor("ben")
    older, _ = open_card(ben, school, "s-01")
    school.clock.pass_minutes(5)
    newer, _ = open_card(ben, school, "s-02")
    page = ben.get("/")
    assert page.index(f"/lessons/{newer}") < page.index(f"/lessons/{older}")


def test_a_filter_is_remembered_until_all_are_shown(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    assert cleo.client.get("/readiness").status_code == 200
    cleo.get("/readiness?order=safety&course=small")
    again = cleo.client.get("/readiness")
    assert again.status_code == 303
    assert again.headers["Location"] == "/readiness?course=small&order=safety"
    assert "Show all" in cleo.get("/readiness")
    assert "Show all" not in cleo.get("/readiness?all=1")
    assert cleo.client.get("/readiness").status_code == 200


def test_a_link_shows_the_same_to_another_reader(school: TestSchool) -> None:
    cleo, gus = school.visitor("cleo"), school.visitor("gus")
    gus.get("/students?ended=1")
    for reader in (cleo, gus):
        page = reader.get("/students?q=han")
        assert "No student has this name." in page
        assert 'value="han"' in page
