"""A page as a PDF, where what makes one is installed."""

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib import import_module

PAPERS = ("A4", "letter")


class PaperError(RuntimeError):
    """No PDF can be made here; the words say which package is missing."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that travels inside the PDF."""

    name: str
    words: str
    data: bytes
    at: datetime


@cache
def missing() -> str:
    """Which package is missing for a PDF, in words; empty when one can be made."""
    try:
        import_module("gradebook.pictures.press")
    except ImportError:  # the extra `pdf` was not installed
        return "the package weasyprint is missing: install windtee[pdf]"
    except OSError:  # it was, but what it draws letters with is not on this machine
        return "weasyprint cannot load the library Pango: install it (Debian: libpango-1.0-0)"
    return ""


def pdf_of(page: str, style: str, size: str, attached: Attached) -> bytes:
    """The page as a tagged PDF (PDF/UA-1) on paper of a size of `PAPERS`.

    PaperError says what is missing; ValueError for another size.
    """
    if size not in PAPERS:
        raise ValueError(f"paper is one of {', '.join(PAPERS)}")
    if missing():
        raise PaperError(missing())
    press = import_module("gradebook.pictures.press")
    made: bytes = press.printed(page, f"{style}\n@page {{ size: {size} }}", attached)
    return made
