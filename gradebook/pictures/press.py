"""Laying a page out on paper: the only module that knows WeasyPrint.

It takes a second to be read and may not be readable at all: `paper` reads it when needed.
Nothing is fetched for a page: its own `data:` addresses are read, every other refused.
"""

from io import BytesIO

from weasyprint import CSS, HTML, Attachment
from weasyprint.urls import URLFetcher

from gradebook.pictures.paper import Attached

VARIANT = "pdf/ua-1"


def printed(page: str, style: str, attached: Attached) -> bytes:
    """The page in this style as a tagged PDF (PDF/UA-1), a file inside."""
    fetcher = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    sheet = CSS(string=style, url_fetcher=fetcher)
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
