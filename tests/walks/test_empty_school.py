"""A school on its first day: every list says that it is empty and what to do about it."""

import re
from collections.abc import Iterator

import pytest

from gradebook.records import secrets
from gradebook.records.commands import founding, roles
from gradebook.records.commands import people as accounts
from tests.cast import ROLES, TestSchool, close_school, new_school
from tests.walks.test_inert import LINK

LISTS = {
    "ana": ("/", "/syllabus"),
    "ben": ("/", "/students", "/syllabus", "/find", "/find?q=ana"),
    "cleo": ("/", "/students", "/readiness", "/school", "/school/instructors"),
    "eve": ("/", "/students", "/syllabus"),
    "flo": ("/syllabus",),
    "gus": ("/audit", "/students", "/readiness", "/school", "/school/forecasts"),
}
"""The lists that are empty on the first day, by who looks at them."""
BODY = re.compile(r"<tbody>(.*?)</tbody>", re.DOTALL)
BARE = re.compile(r"<(ul|ol|dl)\b[^>]*>\s*</\1>")
MAIN = re.compile(r"<main\b.*?</main>", re.DOTALL)


@pytest.fixture(scope="module")
def first_day(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestSchool]:
    """A school with its people and nothing else."""
    school = new_school(tmp_path_factory.mktemp("empty"))
    seed, at, cost = school.settings.seed, school.clock.at, school.settings.hash_cost
    with school.database.write() as session:
        founding.found(session, seed, "Test school", "Europe/Lisbon", at)
        server = founding.server_act(session, seed, at, "Europe/Lisbon")
        hashed = secrets.hashed("a sentence for the tests", cost)
        for name, held in ROLES.items():
            wanted = accounts.AddPerson(name.capitalize(), f"{name}@school.example", "C", held)
            person = accounts.new_person(server, wanted, hashed)
            for role in held:
                roles.grant(server, person, role)
    yield school
    close_school(school)


@pytest.mark.parametrize("name", LISTS)
def test_every_empty_list_says_what_to_do(first_day: TestSchool, name: str) -> None:
    who = first_day.visitor(name)
    silent = [path for path in LISTS[name] if 'class="empty' not in who.get(path)]
    assert silent == []


@pytest.mark.parametrize("name", ROLES)
def test_every_page_of_the_menu_opens_on_the_first_day(
    first_day: TestSchool, name: str
) -> None:
    who = first_day.visitor(name)
    page = who.get("/")
    menu = page.partition('<ul class="menu-links">')[2].partition("</ul>")[0]
    addresses = [part.partition('"')[0] for part in menu.split('href="')[1:]]
    assert addresses
    for address in addresses:
        assert "<h1>" in who.get(address), address


def reached(school: TestSchool, name: str) -> dict[str, str]:
    """Every page somebody can click to, by address, from the day on."""
    who, found, waiting = school.visitor(name), {}, ["/"]
    while waiting:
        path = waiting.pop().replace("&amp;", "&")
        if path in found or not path.startswith("/") or path.startswith(("/static", "/vendor")):
            continue
        answer = who.client.get(path, follow_redirects=True)
        assert answer.status_code == 200, path
        found[path] = answer.text
        if answer.mimetype == "text/html":
            waiting += LINK.findall(answer.text)
    return found


@pytest.mark.parametrize("name", ROLES)
def test_no_page_shows_a_list_of_nothing(first_day: TestSchool, name: str) -> None:
    silent = {}
    for path, page in reached(first_day, name).items():
        shown = MAIN.search(page)
        if shown is None:
            continue
        bodies = [body for body in BODY.findall(shown[0]) if not body.strip()]
        if bodies or BARE.search(shown[0]):
            silent[path] = (bodies, BARE.findall(shown[0]))
    assert silent == {}


def test_enrolling_without_a_course_says_who_publishes_one(first_day: TestSchool) -> None:
    cleo = first_day.visitor("cleo")
    page = cleo.get(re.findall(r"/people/\w+/enrol", cleo.get("/people"))[0])
    assert "windtee syllabus publish COURSE" in page
    assert "<select" not in page


def test_the_office_is_told_how_to_begin_until_there_is_a_student(
    first_day: TestSchool, school: TestSchool
) -> None:
    assert "windtee syllabus publish COURSE" in first_day.visitor("cleo").get("/")
    assert "hand each the link" not in school.visitor("flo").get("/people")
