"""Answers packed by gzip for whoever can unpack them.

A packed page is as long as its words make it, so somebody who can put words into it from
outside and see its length could guess at the rest (BREACH, 2013). Every packed answer therefore
carries a name of random length, as the gzip format allows; and no secret stays the same from
page to page: a form's token is signed anew each second.
"""

import secrets

from flask import Response, request

from gradebook.packing import packed, shrinks

NOISE = 100
"""The most bytes of random length that are added."""


def pack(answer: Response) -> Response:
    """The answer, packed where that helps and the browser can unpack it."""
    if answer.direct_passthrough or answer.is_streamed or answer.content_encoding:
        return answer
    content = answer.get_data()
    if not shrinks(answer.mimetype or "", content):
        return answer
    answer.vary.add("Accept-Encoding")
    if request.accept_encodings.quality("gzip") > 0:
        answer.set_data(packed(content, name="x" * (1 + secrets.randbelow(NOISE))))
        answer.content_encoding = "gzip"
    return answer
