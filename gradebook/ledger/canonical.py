"""One text for one content (RFC 8785), and a reader that takes nothing ambiguous."""

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Any, NoReturn, TypeAlias

import rfc8785

Json: TypeAlias = dict[str, Any] | list[Any] | str | int | None

LARGEST = 2**53 - 1  # what every reader of JSON keeps exactly
DEEPEST = 40
_SORTS_OTHERWISE = re.compile("[\ud800-\U0010ffff]")
_SURROGATE = re.compile("[\ud800-\udfff]")


class MalformedError(ValueError):
    """A text that is not what it should be; the message says where it fails."""


def jcs(value: object) -> bytes:
    """RFC 8785 of any JSON value, its text left as it is; MalformedError if it has none."""
    try:
        return rfc8785.dumps(value)  # type: ignore[arg-type]
    except (rfc8785.CanonicalizationError, RecursionError, UnicodeEncodeError) as error:
        raise MalformedError(str(error)) from error


def canonical(value: object) -> bytes:
    """RFC 8785 of a value with all its text in NFC; a float anywhere is a MalformedError.

    What is signed holds no floats: two programs seldom print the same one.
    """
    return jcs(_composed(value))


def is_canonical(value: Json, text: str | bytes) -> bool:
    """Whether `text`, from which `parse` read the value, is the value's canonical text.

    The standard library writes the same text, faster, unless names hold characters that sort
    otherwise in UTF-16, all of which lie beyond U+D7FF: with such a one, the slow way decides.
    """
    read = text.decode() if isinstance(text, bytes) else text
    if _SORTS_OTHERWISE.search(read):
        return canonical(value) == read.encode()
    return unicodedata.is_normalized("NFC", read) and read == json.dumps(
        value, ensure_ascii=False, separators=(",", ":"), sort_keys=True
    )


def _composed(value: object) -> object:
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if isinstance(value, float):
        raise MalformedError(f"{value!r} is a float; write a whole number or a text")
    if isinstance(value, list | tuple):
        return [_composed(item) for item in value]
    if isinstance(value, dict):
        return _unique((_composed(key), _composed(item)) for key, item in value.items())
    return value


def parse(text: str | bytes) -> Json:
    """Read JSON strictly; MalformedError for everything two readers could read differently.

    Refused: invalid UTF-8, a byte-order mark, a name twice in an object, NaN and infinity,
    half a surrogate pair, fractions and exponents, minus zero, whole numbers beyond
    2**53 - 1, more than 40 levels.
    """
    try:
        read = text.decode() if isinstance(text, bytes) else text
        value: Json = json.loads(
            read,
            object_pairs_hook=_unique,
            parse_int=_whole,
            parse_float=_refuse,
            parse_constant=_refuse,
        )
    except MalformedError:
        raise
    except (ValueError, RecursionError) as error:
        raise MalformedError(f"not JSON: {error}") from error
    _check(value, DEEPEST)
    return value


def _unique(pairs: Iterable[tuple[Any, Any]]) -> dict[Any, Any]:
    found: dict[Any, Any] = {}
    for name, value in pairs:
        if name in found:
            raise MalformedError(f"{name!r} stands there twice")
        found[name] = value
    return found


def _whole(digits: str) -> int:
    if digits == "-0" or len(digits) > len(f"-{LARGEST}") or abs(int(digits)) > LARGEST:
        raise MalformedError(f"the number {digits[:20]} is not read alike everywhere")
    return int(digits)


def _refuse(number: str) -> NoReturn:
    raise MalformedError(f"{number[:20]} is not a whole number")


def _check(value: object, room: int) -> None:
    """No half surrogates, and not too deep."""
    if isinstance(value, str):
        if not value.isascii() and _SURROGATE.search(value):
            raise MalformedError("half of a surrogate pair")
    elif isinstance(value, list | dict):
        if not room:
            raise MalformedError(f"more than {DEEPEST} levels")
        for item in value if isinstance(value, list) else (*value, *value.values()):
            if not (isinstance(item, str) and item.isascii()):
                _check(item, room - 1)


def sha256_hex(data: bytes) -> str:
    """SHA-256, hexadecimal."""
    return hashlib.sha256(data).hexdigest()
