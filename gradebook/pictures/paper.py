"""A page laid out on paper: the only module that knows WeasyPrint, which may not be there.

Nothing is fetched for it: the page's own `data:` addresses are read, every other refused.
"""

from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

try:
    from weasyprint import CSS, HTML, Attachment
    from weasyprint.urls import URLFetcher

    MISSING = ""
except ImportError:  # the extra `pdf` was not installed
    MISSING = "the package weasyprint is missing: install windtee[pdf]"
except OSError:  # it was, but what it draws letters with is not on this machine
    MISSING = "weasyprint cannot load the library Pango: install it (Debian: libpango-1.0-0)"

PAPERS = ("A4", "letter")
VARIANT = "pdf/ua-1"


class PaperError(RuntimeError):
    """No PDF can be made here; the words say which package is missing."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that travels inside the PDF."""

    name: str
    words: str
    data: bytes
    at: datetime


def pdf_of(page: str, style: str, size: str, attached: Attached) -> bytes:
    """The page as a tagged PDF (PDF/UA-1) on paper of a size of `PAPERS`.

    PaperError says what is missing; ValueError for another size.
    """
    if MISSING:
        raise PaperError(MISSING)
    if size not in PAPERS:
        raise ValueError(f"paper is one of {', '.join(PAPERS)}")
    fetcher = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    sheet = CSS(string=f"{style}\n@page {{ size: {size} }}", url_fetcher=fetcher)
    file = Attachment(
        file_obj=BytesIO(attached.data),
        name=attached.name,
        description=attached.words,
        created=attached.at,
        modified=attached.at,
        relationship="Source",
        url_fetcher=fetcher,
    )
    whole = HTML(string=page, url_fetcher=fetcher)
    made: bytes = whole.write_pdf(stylesheets=[sheet], attachments=[file], pdf_variant=VARIANT)
    return made
