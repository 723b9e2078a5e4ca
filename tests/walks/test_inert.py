"""What is typed is shown as typed: no page takes it for code, no spreadsheet for a formula."""

import csv
import io
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradebook.exchange.table import RISKY, safe_cell, write_table
from gradebook.records.commands import enrolling, roles
from gradebook.records.commands import people as accounts
from gradebook.records.permissions import Role
from tests.cast import SECRET, TestSchool, Visitor, close_school, open_school
from tests.small_course import FILES
from tests.walks.test_main_job import FILLED, lesson_form, open_card

ATTACKS = (
    "<script data-bad>bad=1</script>",
    '"><img src=x onerror=bad=1 data-bad>',
    "'><svg data-bad onload=bad=1>",
    "</textarea><b data-bad>x",
    "</title><b data-bad>x",
    "</script><b data-bad>x",
    "</style><b data-bad>x",
    "<!--<b data-bad>-->",
    "--><b data-bad>x",
    "]]><b data-bad>x",
    "x' autofocus onfocus=bad=1 data-bad='",
    'x" autofocus onfocus=bad=1 data-bad="',
    "x data-bad onclick=bad=1",
    "javascript:bad=1//",
    "{{ 7 * 7 }}<b data-bad>",
    "{% raw %}<b data-bad>",
    "&lt;b data-bad&gt;",
    "\u2028<b data-bad>",
    "<<b data-bad>b>",
    "<b\ndata-bad>",
    "＜b data-bad＞",  # noqa: RUF001 - brackets in full width
)
FORMULAS = ("=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", "\n=1", "\0=1", '=HYPERLINK("x")')
LINK = re.compile(r'href="(/[^"#]*)"')
KIND = re.compile(r"[0-9a-f]{32,}|(?<=/tasks/)[\w-]+")


class Marks(HTMLParser):
    """Elements that something typed has become, and addresses that run code."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            runs = (value or "").strip().lower().startswith("javascript:")
            if name == "data-bad" or name.startswith("on") or (runs and name != "value"):
                self.found.append(f"<{tag} {name}={value!r}>")


def marks(page: str) -> list[str]:
    """What of a page was typed and is now code."""
    parser = Marks()
    parser.feed(page)
    parser.close()
    return parser.found


@pytest.mark.parametrize("attack", ATTACKS[:6])
def test_the_parser_does_see_what_is_not_escaped(attack: str) -> None:
    where = {"</textarea>": "<textarea>", "</title>": "<title>", "</script>": "<script>"}
    before = next((tag for end, tag in where.items() if attack.startswith(end)), "")
    quote = attack[0] if attack[0] in "\"'" else ""
    page = f"<input value={quote}{attack}" if quote else f"{before}{attack}"
    assert marks(page)


def course() -> dict[str, str]:
    """The small course under a title that is an attack."""
    files = dict(FILES)
    (name,) = [name for name in files if name.endswith("course.toml")]
    title = re.search(r'^title = ".*"$', files[name], re.MULTILINE)
    assert title
    files[name] = files[name].replace(title[0], f"title = '''{ATTACKS[1]}'''")
    return files


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestSchool]:
    """A school where people are named by attacks, and everything written is one."""
    opened = open_school(tmp_path_factory.mktemp("attacked"), files=course())
    with opened.database.write() as session:
        chief = opened.act(session, "cleo")
        for number, attack in enumerate((*ATTACKS, *FORMULAS[:4])):
            email = f"bad{number}@school.example"
            wanted = accounts.AddPerson(attack, email, attack[:60], (Role.STUDENT,))
            person = accounts.new_person(chief, wanted)
            roles.grant(chief, person, Role.STUDENT)
            began = opened.clock.at.date()
            enrolling.enrol(
                chief, enrolling.Enrol(person.id, "small", began, opened.ids["ben"])
            )
    write_attacks(opened)
    yield opened
    close_school(opened)


def write_attacks(school: TestSchool) -> None:
    """Ben signs a lesson full of attacks, Ana disagrees with more, a second card is open."""
    ben, words = school.visitor("ben"), " ".join(ATTACKS)
    record, page = open_card(ben, school)
    fields = {
        **FILLED,
        **lesson_form(page),
        "remarks": words,
        "remark-hover": words,
        "remark-run-up": words,
        "ident": ATTACKS[2][:20],
    }
    ben.send(f"/lessons/{record}", fields)
    review = ben.get(f"/lessons/{record}/review")
    ben.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    ana.post(f"/records/{record}/acknowledge", answer="disagree", comment=words, secret=SECRET)
    draft, page = open_card(ben, school, "s-02")
    times = {"times-dual": ATTACKS[1][:10], "reading-left-drop": ATTACKS[1][:20]}
    ben.send(
        f"/lessons/{draft}",
        {**lesson_form(page), "remarks": words, "do": "save", "flown_on": ATTACKS[5], **times},
    )


def pages(who: Visitor) -> Iterator[tuple[str, str]]:
    """Every page within reach, three of a kind."""
    waiting, kinds = ["/", f"/students?q={ATTACKS[1]}", f"/{ATTACKS[0]}"], dict[str, int]()
    while waiting:
        path = waiting.pop(0).replace("&amp;", "&")
        kind = KIND.sub("*", path.partition("?")[0])
        kinds[kind] = kinds.get(kind, 0) + 1
        if kinds[kind] > 3 or path.startswith(("/static", "/vendor")):
            continue
        answer = who.client.get(path, follow_redirects=True)
        waiting += LINK.findall(answer.text)
        yield path, answer.text


@pytest.mark.parametrize("name", ["ana", "ben", "cleo", "flo", "gus"])
def test_no_page_takes_what_was_typed_for_code(attacked: TestSchool, name: str) -> None:
    found, seen = {}, 0
    for path, page in pages(attacked.visitor(name)):
        seen += "data-bad" in page
        if path.partition("?")[0].endswith(".csv"):
            cells = [cell for row in csv.reader(io.StringIO(page)) for cell in row]
            words = [cell for cell in cells if cell.startswith(RISKY) and not is_number(cell)]
        else:
            words = marks(page)
        if words:
            found[path] = words
    assert found == {}
    assert seen >= 3  # the attacks are on these pages, as text


def is_number(cell: str) -> bool:
    return re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", cell) is not None


@pytest.mark.parametrize("words", [*FORMULAS, *ATTACKS])
def test_a_cell_is_never_a_formula_and_nothing_is_lost(words: str) -> None:
    written = next(csv.reader(io.StringIO(write_table([words], []), newline="")))
    assert not written[0].startswith(RISKY)
    assert written[0].removeprefix("'") == words.removeprefix("'")


@given(st.lists(st.text(max_size=20), min_size=1, max_size=5))
def test_no_text_becomes_a_formula(cells: list[str]) -> None:
    (row,) = csv.reader(io.StringIO(write_table(cells, []), newline=""))
    assert [cell for cell in row if cell.startswith(RISKY)] == []
    assert row == [safe_cell(cell) for cell in cells]


@given(st.one_of(st.integers(), st.floats(allow_nan=False)))
def test_a_number_stays_the_number_it_is(number: float) -> None:
    assert type(number)(safe_cell(number)) == number
