"""Words in the reader's language: catalogues, and the language of whoever is being answered.

A catalogue is a `.po` file in `translations/`; Babel reads it when it is first asked for.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path

from babel import Locale, dates, negotiate_locale, numbers
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from syllabus.saying import Said

TRANSLATIONS = Path(__file__).with_name("translations")
LANGUAGES: Mapping[str, str] = {
    "en": "English",
    "en-US": "English (United States)",
    "de": "Deutsch",
}
"""What can be chosen, each in its own words. Plain English writes `3 Nov 2026, 14:05`."""
HOUSE = "en"
DATES = ("words", "figures", "iso")
SCRIPTS = "static/js/"


@lru_cache
def catalogue(language: str) -> Catalog | None:
    """The catalogue of a language, or None where there is none (English)."""
    path = TRANSLATIONS / f"{language}.po"
    if not path.is_file():
        return None
    with path.open("rb") as file:
        return read_po(file, locale=language.replace("-", "_"))


@lru_cache
def _spoken_by(language: str) -> NullTranslations:
    found = catalogue(language)
    if found is None:
        return NullTranslations()
    compiled = BytesIO()
    write_mo(compiled, found)
    compiled.seek(0)
    return GNUTranslations(compiled)


@dataclass(frozen=True, slots=True)
class Language:
    """One of `LANGUAGES`, with the way its reader wants dates (one of `DATES`)."""

    code: str = HOUSE
    dates: str = "words"

    @property
    def is_house(self) -> bool:
        """Whether everything is said already as this reader wants it."""
        return self.code == HOUSE and self.dates == "words"

    @property
    def locale(self) -> Locale:
        """Its habits in CLDR; those of plain English are British."""
        return Locale.parse("en_GB" if self.code == HOUSE else self.code.replace("-", "_"))

    def phrase(self, text: str) -> str:
        """An English text in this language; the text itself where it is not known."""
        return _spoken_by(self.code).gettext(text) if text else ""

    def phrase_n(self, one: str, many: str, n: int) -> str:
        """The form of an English text that this language uses for a number."""
        return _spoken_by(self.code).ngettext(one, many, n)

    def figure(self, text: str) -> str:
        """A decimal number with this language's decimal sign."""
        return text.replace(".", numbers.get_decimal_symbol(self.locale))

    def day(self, day: date) -> str:
        """`3. Nov. 2026`, `3.11.2026` or `2026-11-03`, as the reader chose."""
        if self.dates == "iso":
            return day.isoformat()
        skeleton = "yMd" if self.dates == "figures" else "yMMMd"
        return dates.format_skeleton(skeleton, day, locale=self.locale)

    def clock(self, at: datetime) -> str:
        """`14:05 MEZ` or `2:05 PM EST`: the time of day and its zone."""
        zone = dates.get_timezone_name(at, "short", locale=self.locale)
        if any(sign.isdigit() for sign in zone):
            zone = at.tzname() or zone  # this language has no name for that zone
        return f"{dates.format_time(at, 'short', tzinfo=at.tzinfo, locale=self.locale)} {zone}"


_READER: ContextVar[Language] = ContextVar("reader")
_READER_UNKNOWN = Language()


def reader() -> Language:
    """The language of whoever is being answered; plain English where nobody said."""
    return _READER.get(_READER_UNKNOWN)


def answer_in(language: Language) -> None:
    """From here on, in this thread, answer in a language."""
    _READER.set(language)


@contextmanager
def speaking(language: Language) -> Iterator[None]:
    """Answer in a language for a while."""
    before = _READER.set(language)
    try:
        yield
    finally:
        _READER.reset(before)


def spoken(text: object) -> object:
    """Words as the reader reads them; anything else as it is."""
    if not isinstance(text, Said):
        return text
    language = reader()
    return str(text) if language.is_house else text.retell(language)


def spoken_all(value: object) -> object:
    """The same for whole lists and mappings."""
    if isinstance(value, dict):
        return {key: spoken_all(one) for key, one in value.items()}
    return (
        [spoken_all(one) for one in value] if isinstance(value, list | tuple) else spoken(value)
    )


def best(wanted: Iterable[str]) -> str | None:
    """The language that suits somebody who wants these, the first most; None if none does."""
    found = negotiate_locale(list(wanted), list(LANGUAGES), "-") or ""
    return next((code for code in LANGUAGES if code.lower() == found.lower()), None)


@lru_cache
def for_scripts(language: str) -> tuple[str, str]:
    """(digest, JSON) of the words that scripts say in a language; empty texts for English."""
    found = catalogue(language)
    if found is None:
        return "", ""
    said = {
        message.id: message.string
        for message in found
        if any(file.startswith(SCRIPTS) for file, _ in message.locations) and message.string
    }
    text = json.dumps(said, ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:12], text
