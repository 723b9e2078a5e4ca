"""What a signature covers: a canonical text of the whole record, its digest, and the chain."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

FORMAT = "windtee-lesson-record/1"
MEANING = "I gave this lesson and these grades are mine."
IMPORT_MEANING = "Entered from earlier records of the school."


def canonical(statement: Mapping[str, Any]) -> str:
    """One text for one content: sorted keys, no spaces, UTF-8.

    Equal to RFC 8785 for the values used here (text, booleans, whole numbers, null).
    """
    return json.dumps(statement, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def digest_of(text: str) -> str:
    """SHA-256 of the text's UTF-8 bytes, hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()
