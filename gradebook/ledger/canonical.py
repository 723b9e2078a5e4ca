"""One text for one content (RFC 8785), and a reader that takes nothing ambiguous."""

import hashlib
import json
import re
import unicodedata
from typing import Any, NoReturn, TypeAlias

import rfc8785

Json: TypeAlias = dict[str, Any] | list[Any] | str | int | None

LARGEST = 2**53 - 1  # what every reader of JSON keeps exactly
DEEPEST = 40
_SORTS_OTHERWISE = re.compile("[\ud800-\U0010ffff]")
_SURROGATE = re.compile("[\ud800-\udfff]")
_CONTAINERS = frozenset((dict, list))
_SINGLE = frozenset((str, bool, type(None)))
_WRITER = json.JSONEncoder(
    ensure_ascii=False, check_circular=False, separators=(",", ":"), sort_keys=True
)


class MalformedError(ValueError):
    """A text that is not what it should be; the message says where it fails."""


def jcs(value: object) -> bytes:
    """RFC 8785 of any JSON value, its text left as it is; MalformedError if it has none."""
    written = _written(value)
    if written is not None:
        return written.encode()
    try:
        return rfc8785.dumps(value)  # type: ignore[arg-type]
    except (rfc8785.CanonicalizationError, RecursionError, UnicodeEncodeError) as error:
        raise MalformedError(str(error)) from error


def canonical(value: object) -> bytes:
    """RFC 8785 of a value with all its text in NFC; a float anywhere is a MalformedError.

    What is signed holds no floats: two programs seldom print the same one.
    """
    written = _written(value)
    if written is not None and unicodedata.is_normalized("NFC", written):
        return written.encode()
    return jcs(_composed(value))


def is_canonical(value: Json, text: str | bytes) -> bool:
    """Whether `text`, from which `parse` read the value, is the value's canonical text."""
    read = text.decode() if isinstance(text, bytes) else text
    if not _is_composed(read):
        return canonical(value) == read.encode()  # the n of a \n may seem to bear an accent
    return read == _WRITER.encode(value)


def plain(text: str | bytes) -> Json:
    """The value of a canonical text, read the quick way; None where that cannot tell.

    What is written back to the very same text had no name twice, no minus zero, no escaped
    surrogate and no order of its own; the rest is asked before. Whatever is not plain is for
    `parse` and `is_canonical`, which say what is wrong.
    """
    try:
        read = text.decode() if isinstance(text, bytes) else text
        if not read.isascii() and not _is_composed(read):
            return None
        value: Json = _QUICK_READER.decode(read)
        if _WRITER.encode(value) != read:
            return None
    except (ValueError, RecursionError):
        return None
    deep = read.count("{") + read.count("[") > DEEPEST and _is_deep(value)
    return None if deep else value


def _is_composed(read: str) -> bool:
    """Whether text needs no closer look: NFC, with no character that UTF-16 sorts otherwise."""
    return not _SORTS_OTHERWISE.search(read) and unicodedata.is_normalized("NFC", read)


def _written(value: object) -> str | None:
    """The text as the standard library writes it, where that is RFC 8785's; else None.

    It is, and comes ten times faster, for whole numbers that are exact, names that are text,
    and no character beyond U+D7FF, since from there on UTF-16 sorts otherwise.
    """
    level: list[Any] = [value]
    for _ in range(DEEPEST):
        if not level:
            written = _WRITER.encode(value)
            return None if _SORTS_OTHERWISE.search(written) else written
        deeper: list[Any] = []
        for item in level:
            kind = type(item)
            if kind is dict and all(type(name) is str for name in item):
                deeper += item.values()
            elif kind is list or kind is tuple:
                deeper += item
            elif kind not in _SINGLE and not (kind is int and abs(item) <= LARGEST):
                return None
        level = deeper
    return None


def _composed(value: object) -> object:
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if isinstance(value, float):
        raise MalformedError(f"{value!r} is a float; write a whole number or a text")
    if isinstance(value, list | tuple):
        return [_composed(item) for item in value]
    if isinstance(value, dict):
        return _unique([(_composed(key), _composed(item)) for key, item in value.items()])
    return value


def parse(text: str | bytes) -> Json:
    """Read JSON strictly; MalformedError for everything two readers could read differently.

    Refused: invalid UTF-8, a byte-order mark, a name twice in an object, NaN and infinity,
    half a surrogate pair, fractions and exponents, minus zero, whole numbers beyond
    2**53 - 1, more than 40 levels.
    """
    try:
        read = text.decode() if isinstance(text, bytes) else text
        value: Json = _READER.decode(read)
    except MalformedError:
        raise
    except (ValueError, RecursionError) as error:
        raise MalformedError(f"not JSON: {error}") from error
    _check(value, read)
    return value


def _unique(pairs: list[tuple[Any, Any]]) -> dict[Any, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise MalformedError(f"{twice!r} stands there twice")
    return found


def _whole(digits: str) -> int:
    if digits == "-0" or len(digits) > len(f"-{LARGEST}") or abs(int(digits)) > LARGEST:
        raise MalformedError(f"the number {digits[:20]} is not read alike everywhere")
    return int(digits)


def _refuse(number: str) -> NoReturn:
    raise MalformedError(f"{number[:20]} is not a whole number")


def _is_deep(value: Json) -> bool:
    """Whether it has more levels than `DEEPEST`."""
    level: list[Any] = [value] if type(value) in _CONTAINERS else []
    room = DEEPEST
    while level and room:
        level = [
            item
            for held in level
            for item in (held.values() if type(held) is dict else held)
            if type(item) in _CONTAINERS
        ]
        room -= 1
    return bool(level)


def _check(value: Json, read: str) -> None:
    """Not too deep, and no half surrogates, whether written out or escaped."""
    if _is_deep(value):
        raise MalformedError(f"more than {DEEPEST} levels")
    escaped = "\\ud" in read or "\\uD" in read
    if (escaped or not read.isascii()) and _SURROGATE.search(_WRITER.encode(value)):
        raise MalformedError("half of a surrogate pair")


_READER = json.JSONDecoder(
    object_pairs_hook=_unique,
    parse_int=_whole,
    parse_float=_refuse,
    parse_constant=_refuse,
)
_QUICK_READER = json.JSONDecoder(parse_int=_whole, parse_float=_refuse, parse_constant=_refuse)


def sha256_hex(data: bytes) -> str:
    """SHA-256, hexadecimal."""
    return hashlib.sha256(data).hexdigest()
