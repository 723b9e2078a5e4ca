"""How little a page asks of the database and of the network."""

import gzip
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urljoin

import brotli
import pytest

from gradebook.security.packing import NOISE, NOISE_HEADER
from tests.card_desk import Desk
from tests.cast import TestSchool, Visitor, close_school, open_school
from tests.counting import asked
from tests.small_course import twenty_tasks
from tests.walks.test_main_job import open_card, sign_first_lesson

MOST_QUERIES = 6
MOST_BYTES = 40_000
"""What the look promises of a page, and of the grading card on a phone."""
AT_A_TIME = 6
"""Files that a browser asks of one server at once by HTTP/1.1."""
FILE = re.compile(r'(?:src|href)="(/static/[^"]+)"')
IMPORT = re.compile(r'^import [^"]*"([^"]+)"', re.MULTILINE)


def screens(school: TestSchool) -> Iterator[tuple[str, str]]:
    """The main screens, each with who looks at it: one lesson is signed, the next is open."""
    record = sign_first_lesson(school)
    draft, _ = open_card(school.visitor("ben"), school, "s-02")
    home = f"/students/{school.enrolment}"
    yield from (("ben", "/"), ("cleo", "/"), ("ben", "/students"))
    yield from (("ben", f"/lessons/{draft}"), ("ben", f"/lessons/{draft}/flow"))
    yield "ben", f"/lessons/{draft}/review"
    yield from (("ana", home), ("ben", home), ("ana", f"{home}/tasks/hover"))
    yield from (("ben", f"/records/{record}"), ("ana", f"/records/{record}"))
    yield from (("cleo", "/readiness"), ("cleo", f"{home}/readiness/stage-1"))
    yield from (
        ("cleo", "/school"),
        ("gus", "/school/instructors"),
        ("cleo", "/school/progress"),
    )
    yield from (("gus", "/audit"), ("ben", f"{home}/records"), ("ana", "/syllabus"))


def test_no_main_screen_asks_the_database_more_than_six_times(
    either_school: TestSchool,
) -> None:
    school = either_school
    looked_at = list(screens(school))
    visitors = {name: school.visitor(name) for name, _ in looked_at}
    engine = school.app.extensions["windtee"].database.engine
    found = {}
    for name, path in looked_at:
        visitors[name].get(path)  # the first look of a day is put in the trail
        with asked(engine) as sent:
            assert visitors[name].client.get(path).status_code == 200, path
        found[name, path] = len(sent)
    assert max(found.values()) <= MOST_QUERIES, found
    assert min(found.values()) > 0, found


def test_a_review_that_can_be_signed_asks_no_more(school: TestSchool) -> None:
    desk = Desk(school)
    desk.save()
    with asked(school.app.extensions["windtee"].database.engine) as sent:
        page = desk.review()
    assert "Sign this record" in page
    assert len(sent) <= MOST_QUERIES, sent


@pytest.fixture
def long_school(tmp_path: Path) -> Iterator[TestSchool]:
    """A school whose next lesson has twenty tasks."""
    opened = open_school(tmp_path, files=twenty_tasks())
    yield opened
    close_school(opened)


def fetched(who: Visitor, paths: list[str]) -> set[str]:
    """These files, and what the scripts among them import; icons of a home screen left out."""
    found, waiting = set[str](), [path for path in paths if not path.endswith(".png")]
    while waiting:
        path = waiting.pop()
        if path in found:
            continue
        found.add(path)
        if path.endswith(".js"):
            waiting += [urljoin(path, one) for one in IMPORT.findall(who.client.get(path).text)]
    return found


def over_the_wire(who: Visitor, path: str) -> int:
    """Bytes of an answer to a browser that unpacks gzip, its headers counted too."""
    answer = who.client.get(path, headers={"Accept-Encoding": "gzip, br"})
    assert answer.status_code == 200, path
    return len(answer.data) + len(str(answer.headers))


def assert_light(who: Visitor, path: str) -> None:
    """The page with all its files takes no more than the look promises."""
    files = fetched(who, FILE.findall(who.get(path)))
    assert len(files) > 10
    sizes = {one: over_the_wire(who, one) for one in (path, *files)}
    assert sum(sizes.values()) <= MOST_BYTES, sizes


def test_the_card_of_twenty_tasks_takes_at_most_forty_kilobytes(
    long_school: TestSchool,
) -> None:
    ben = long_school.visitor("ben")
    draft, _ = open_card(ben, long_school, "s-00")
    assert_light(ben, f"/lessons/{draft}")


def test_a_card_keeps_words_once_twice_six_files_have_come(school: TestSchool) -> None:
    ben = school.visitor("ben")
    _, page = open_card(ben, school)
    early = re.findall(r'rel="(?:modulepreload|stylesheet)"\s+href="(/static/[^"]+)"', page)
    assert len(early) <= 2 * AT_A_TIME, early
    card = next(one for one in early if one.endswith("/js/card.js"))
    assert fetched(ben, [card]) <= set(early)


def test_a_page_goes_out_without_the_indentation_of_its_template(school: TestSchool) -> None:
    for name, path in screens(school):
        page = school.visitor(name).get(path)
        assert not re.findall(r"^[ \t]{2,}<.*", page, re.MULTILINE), path


def test_what_people_wrote_keeps_its_lines_and_blanks(school: TestSchool) -> None:
    desk = Desk(school)
    wrote = "Late flare:\n    brake early,\n\n  then hold."
    desk.save(remark__hover=wrote)
    assert wrote in desk.ben.get(f"/lessons/{desk.record}")


def test_a_page_is_packed_only_for_whoever_can_unpack_it(school: TestSchool) -> None:
    ben = school.visitor("ben").client
    plain, packed = (ben.get("/", headers={"Accept-Encoding": one}) for one in ("", "gzip"))
    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.data).count(b"<h1>") == plain.data.count(b"<h1>") == 1
    assert len(packed.data) < len(plain.data) / 2
    assert "Accept-Encoding" in plain.headers["Vary"]
    assert "Accept-Encoding" in packed.headers["Vary"]


def test_the_length_of_a_packed_page_tells_nothing_exactly(school: TestSchool) -> None:
    ben = school.visitor("ben").client
    answers = [ben.get("/syllabus", headers={"Accept-Encoding": "gzip"}) for _ in range(20)]
    lengths = {len(one.headers[NOISE_HEADER]) for one in answers}
    assert len(lengths) > 5
    assert max(lengths) <= NOISE * 4 / 3 + 1


def test_a_file_is_kept_for_a_year_under_its_own_version_alone(school: TestSchool) -> None:
    ben = school.visitor("ben")
    path = next(one for one in FILE.findall(ben.get("/")) if one.endswith("pages.css"))
    kept = ben.client.get(path)
    assert "immutable" in kept.headers["Cache-Control"]
    assert "max-age=31536000" in kept.headers["Cache-Control"]
    older = path.replace(path.split("/")[2], "000000000000")
    other = ben.client.get(older)
    assert other.data == kept.data
    assert other.headers["Cache-Control"] == "no-cache"
    packed = ben.client.get(path, headers={"Accept-Encoding": "gzip, br"})
    assert packed.headers["Content-Encoding"] == "br"
    assert brotli.decompress(packed.data) == kept.data
    again = ben.client.get(older, headers={"If-None-Match": other.headers["ETag"]})
    assert again.status_code == 304
    assert again.data == b""


def test_a_script_finds_what_it_imports_in_its_own_version(school: TestSchool) -> None:
    who = school.visitor("ben")
    page = school.visitor().get("/verify")
    path = next(one for one in FILE.findall(page) if one.endswith("judge.js"))
    assert './verify.js"' in who.client.get(path).text
    beside = who.client.get(path.replace("judge.js", "verify.js"))
    assert "immutable" in beside.headers["Cache-Control"]
