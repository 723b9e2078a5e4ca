"""The pages of the main job in German: nothing of the interface is left in English.

German: written by hand. What people and courses wrote stays as it is.
"""

import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest

from gradebook import words
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, TestSchool, Visitor, close_school, open_school
from tests.small_course import FILES
from tests.story import tell

SPOKEN = ("aria-label", "alt", "title", "placeholder", "data-label")
LETTERS = re.compile(r"[A-Za-zÄÖÜäöüß]{3,}")
SAME = {"Code", "Name", "Audit", "Test", "Standard"}
"""Words that are the same in both languages."""


class Texts(HTMLParser):
    """What a page says: its texts, and the attributes that are read out."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del tag
        self.found += [value for name, value in attrs if name in SPOKEN and value]

    def handle_data(self, data: str) -> None:
        self.found.append(" ".join(data.split()))


def said(page: str) -> list[str]:
    parser = Texts()
    parser.feed(page)
    return [text for text in parser.found if LETTERS.search(text)]


def english() -> re.Pattern[str]:
    """Matches a text that is one of ours in English, whatever its values are."""
    patterns = []
    for message in words.catalogue("de"):
        sources = message.id if isinstance(message.id, tuple) else (message.id,)
        forms = message.string if isinstance(message.string, tuple) else (message.string,)
        for source in sources:
            fixed = re.sub(r"\{\w+\}", "", source)
            least = 2 if "{" in source else 1
            if (
                source not in forms
                and len(LETTERS.findall(fixed)) >= least
                and source not in SAME
            ):
                parts = re.split(r"\{\w+\}", source)
                patterns.append(".{1,200}".join(map(re.escape, parts)))
    return re.compile("|".join(patterns))


def without_the_course(text: str) -> str:
    """The text without the titles and words of the course, which nobody translates."""
    known = re.findall(r'(?:title|words) = "([^"]+)"', " ".join(FILES.values()))
    for words_of_it in sorted(known, key=len, reverse=True):
        text = text.replace(words_of_it, "…")
    return text


@pytest.fixture(scope="module")
def told(tmp_path_factory) -> Iterator[tuple[TestSchool, dict[str, str]]]:
    school = open_school(tmp_path_factory.mktemp("school"))
    yield school, tell(school)
    close_school(school)


def reader(school: TestSchool, name: str | None, language: str = "de") -> Visitor:
    visitor = Visitor(school.app.test_client())
    visitor.client.environ_base["HTTP_ACCEPT_LANGUAGE"] = language
    if name:
        visitor.get("/sign-in")
        visitor.post("/sign-in", email=f"{name}@school.example", secret=SECRET)
    return visitor


def draft_of(school: TestSchool) -> str:
    with school.database.read() as session:
        rows = session.query(LessonRecord).filter_by(state="draft")
        return str(rows.first().id)


PAGES = (
    ("ben", "/"), ("ben", "/students"), ("ben", "/students/{ana}"),
    ("ben", "/students/{ana}/records"), ("ben", "/students/{ana}/file"),
    ("ben", "/students/{ana}/readiness/stage-1"), ("ben", "/students/{ana}/readiness/stage-2"),
    ("ben", "/students/{ana}/tasks/preflight"), ("ben", "/students/{ana}/tasks/hover"),
    ("ben", "/students/{ana}/lessons/new"), ("ben", "/students/{ana}/cohort"),
    ("ben", "/lessons/{draft}"), ("ben", "/lessons/{draft}/review"),
    ("ben", "/lessons/{draft}/flow"), ("ben", "/records/{amended}"),
    ("ben", "/records/{superseded}"), ("ben", "/records/{check}"), ("cleo", "/records/{void}"),
    ("ben", "/records/{amended}/amend"), ("ben", "/records/{amended}/void"),
    ("ben", "/account"), ("ben", "/account/reading"), ("ben", "/account/sessions"),
    ("ben", "/account/phones"), ("ben", "/secret"), ("ben", "/phone"), ("ben", "/phone/shell"),
    ("ana", "/"), ("ana", "/records/{amended}"), ("cleo", "/"), ("cleo", "/readiness"),
    ("cleo", "/students/{ana}/readiness/stage-2"), ("cleo", "/students/{ana}/end"),
    ("ben", "/keys"), ("ben", "/find?q=an"), (None, "/sign-in"),
)  # fmt: skip


SIGNED = re.compile(r'<ul lang="en">.*?</ul>', re.DOTALL)
"""What was signed is read as it was signed, and marked as English."""


@pytest.mark.parametrize(("name", "path"), PAGES)
def test_a_page_of_the_main_job_says_nothing_in_english(told, name, path):
    school, records = told
    places = {"ana": school.enrolment, "draft": draft_of(school), **records}
    page = reader(school, name).get(path.format(**places))
    ours = english()
    read = SIGNED.sub("", page)
    left = [text for text in said(read) if ours.fullmatch(without_the_course(text))]
    assert left == []
    assert '<html lang="de"' in page


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_percent_sign_stays_in_the_line_of_its_number(told, language):
    school, _ = told
    path = f"/students/{school.enrolment}/readiness/stage-2"
    page = re.sub(r"<svg.*?</svg>", "", reader(school, "ben", language).get(path), flags=re.S)
    assert re.search(r"\d\N{NO-BREAK SPACE}%", page)
    assert re.findall(r".{9}\d %", page) == []


def test_a_page_that_is_not_there_is_told_in_german_with_the_way_on(told):
    school, _ = told
    page = reader(school, "ben").get("/nowhere", status=404)
    assert "Hier ist nichts, oder nichts, was Sie sehen dürfen." in page
    assert 'href="/students"' in page
    assert 'href="/students"' not in reader(school, None).get("/nowhere", status=404)


def test_a_fault_stands_at_its_field_in_german(told):
    school, _ = told
    ben = reader(school, "ben")
    page = ben.get(f"/lessons/{draft_of(school)}/review")
    assert "Geben Sie das Kennzeichen des Luftfahrzeugs ein." in page


def test_an_answer_names_its_language_and_what_it_depends_on(told):
    client = reader(told[0], None).client
    answer = client.get("/sign-in")
    assert answer.headers["Content-Language"] == "de"
    assert {"Accept-Language", "Cookie"} <= set(answer.vary)


def test_english_readers_load_no_catalogue(told):
    assert "data-words" not in reader(told[0], None, "en").get("/sign-in")


def test_what_scripts_say_is_kept_by_browsers_and_known_by_its_digest(told):
    client = reader(told[0], None).client
    address = re.search(r'data-words="([^"]+)"', client.get("/sign-in").text)[1]
    answer = client.get(address)
    assert answer.json["Sign out, keep it here"] == "Abmelden, hier behalten"
    assert "immutable" in answer.headers["Cache-Control"]
    assert client.get("/words/de-000000000000.json").status_code == 404
    assert client.get("/words/xx-000000000000.json").status_code == 404
