"""Answers packed for whoever can unpack them.

A packed page is as long as its words make it, so somebody who can put words into it from
outside and see its length could guess at the rest (BREACH, 2013). Every packed answer therefore
carries a header of random length; and no secret stays the same from page to page: a form's
token is signed anew each second.
"""

import secrets

from flask import Response, request

from gradebook.packing import PACKINGS, packed, shrinks

NOISE = 64
"""The most random bytes that are added, before they are written as text."""
NOISE_HEADER = "X-Noise"


def pack(answer: Response) -> Response:
    """The answer, packed where that helps and the browser can unpack it."""
    if answer.direct_passthrough or answer.is_streamed or answer.content_encoding:
        return answer
    content = answer.get_data()
    if not shrinks(answer.mimetype or "", content):
        return answer
    answer.vary.add("Accept-Encoding")
    packing = next((one for one in PACKINGS if request.accept_encodings.quality(one)), None)
    if packing is not None:
        answer.set_data(packed(content, packing))
        answer.content_encoding = packing
        answer.headers[NOISE_HEADER] = secrets.token_urlsafe(1 + secrets.randbelow(NOISE))
    return answer
