"""The words of the interface: `python -m tests.words` gathers them into the catalogues.

What is gathered: `say("...")`, `say_n("one", "many", n)` and `count(n, "noun")` in Python and
templates, `t("...")` in scripts, and the codes that people read as words. A new text gets an
empty translation, one that is gone is taken out; the rest stays as it is.
"""

import ast
import re
import sys
from collections.abc import Iterable, Iterator
from enum import StrEnum
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_file
from babel.messages.pofile import write_po

from gradebook import words
from gradebook.records import permissions, values
from gradebook.records.copying.papers import Purpose
from syllabus import course, errors
from syllabus.scales import PUBLIC
from tests.run import ROOT
from tests.tree import kept_files, python_files

SAID = {"say": None, "say_n": (1, 2)}
SAID_IN_SCRIPTS = {"t": None}
COUNTED = {
    "count": {2: (2,), 3: (2, 3)},
    "count_words": {2: (2,)},
}
READ_AS_WORDS: tuple[type[StrEnum], ...] = (
    permissions.Role, permissions.Relation, values.State, values.Outcome, errors.Severity,
    course.Phase, course.LessonKind, Purpose,
)  # fmt: skip
CODES = (
    "amended", "on this phone only", "disagreed", "graduated", "terminated", "transferred",
    "yes", "no", "flow", "reading",
    "done", "prompted", "skipped", "tasks", "hours", "events", "tests", "watch", "records",
    "letter", "a4", "used", "withdrawn", "expired",
)  # fmt: skip
"""Codes that are no enumeration: endings, where an error was found, groups of requirements."""
UNITS = (
    "attempt",
    "lesson",
    "severity",
    "easier",
    "harder",
    "grade",
    "grades",
    "counted grade",
    "more",
    "fewer",
)
"""What charts count, and what lies at the ends of a scale."""
NOTHING_SAID = {"gradebook/cli", "gradebook/demo", "gradebook/records/migrations"}
PLACEHOLDER = re.compile(r"\{\w+\}")

Text = str | tuple[str, str]


def _method(path: Path) -> str:
    return "javascript" if path.suffix == ".js" else "jinja2.ext:babel_extract"


def sources() -> Iterator[Path]:
    """Every file that may speak to people in a browser."""
    files = [*python_files("gradebook", "syllabus"), *kept_files("templates"),
             *kept_files("static", "*.js")]  # fmt: skip
    for path in files:
        if not any(f"{folder}/" in str(path) for folder in NOTHING_SAID):
            yield path


def _counted(found: Text) -> tuple[str, str]:
    one, many = found if isinstance(found, tuple) else (found, f"{found}s")
    return f"{{n}} {one}", f"{{n}} {many}"


def said_in(path: Path) -> Iterator[Text]:
    """The texts of one file."""
    if path.suffix == ".py":
        yield from _said_in_python(ast.parse(path.read_text()))
        return
    method = _method(path)
    if method == "javascript":
        yield from (
            found
            for _, found, _, _ in extract_from_file(method, path, keywords=SAID_IN_SCRIPTS)
        )
        return
    yield from (found for _, found, _, _ in extract_from_file(method, path, keywords=SAID))
    for _, found, _, _ in extract_from_file(method, path, keywords=COUNTED):
        yield _counted(found)


def _said_in_python(tree: ast.Module) -> Iterator[Text]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        texts = [one.value for one in node.args
                 if isinstance(one, ast.Constant) and isinstance(one.value, str)]  # fmt: skip
        if node.func.id == "say" and texts:
            yield texts[0]
        elif node.func.id == "say_n" and texts:
            yield texts[0], texts[1]
        elif node.func.id in COUNTED and texts:
            yield _counted(texts[0] if len(texts) == 1 else (texts[0], texts[1]))


def codes() -> Iterator[str]:
    """Codes that people read as words."""
    yield from (member.value for kind in READ_AS_WORDS for member in kind)
    yield from (*CODES, *UNITS)
    for scale in PUBLIC.values():
        for level in scale.levels:
            yield from (level.words, level.meaning)


def gathered() -> Catalog:
    """All texts of the interface, with the files that hold them."""
    found = Catalog()
    for text in codes():
        found.add(text, locations=[("gradebook/records/values.py", 0)])
    for path in sources():
        where = str(path.relative_to(ROOT))
        for text in said_in(path):
            found.add(text, locations=[(where, 0)])
    return found


def languages() -> list[str]:
    """The languages there are catalogues of."""
    return sorted(path.stem for path in words.TRANSLATIONS.glob("*.po"))


def missing(catalog: Catalog) -> list[Message]:
    """Texts without a translation."""
    return [one for one in catalog if one.id and not all(_forms(one))]


def _forms(message: Message) -> Iterable[str]:
    found = message.string or ""
    return (found,) if isinstance(found, str) else found


def placeholders(text: str) -> set[str]:
    """The names of the values that a text has a place for."""
    return set(PLACEHOLDER.findall(text))


def strange(catalog: Catalog) -> list[str]:
    """Translations whose values are not those of their source."""
    wrong = []
    for message in catalog:
        known = message.id if isinstance(message.id, tuple) else (message.id,)
        wanted = set().union(*map(placeholders, known))
        if message.id and any(placeholders(form) != wanted for form in _forms(message) if form):
            wrong.append(known[0])
    return wrong


def renew(language: str) -> Catalog:
    """The catalogue of a language with today's texts; written back."""
    catalog = words.catalogue(language)
    assert catalog is not None
    now = gathered()
    catalog.update(now, no_fuzzy_matching=True)
    catalog.obsolete.clear()
    with (words.TRANSLATIONS / f"{language}.po").open("wb") as file:
        write_po(file, catalog, width=96, include_lineno=False, sort_output=True)
    return catalog


def main() -> None:
    """Renew all catalogues and say what they lack."""
    for language in languages():
        catalog = renew(language)
        for message in missing(catalog):
            sys.stdout.write(f"{language}: {message.id!r}\n")
        sys.stdout.write(f"{language}: {len(catalog)} texts, {len(missing(catalog))} missing\n")


if __name__ == "__main__":
    main()
