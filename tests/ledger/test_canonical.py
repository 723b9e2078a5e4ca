"""One text for one content; nothing ambiguous is read."""

import json
import struct

import pytest
import rfc8785
from hypothesis import example, given
from hypothesis import strategies as st

from gradebook.ledger.canonical import (
    DEEPEST,
    LARGEST,
    MalformedError,
    canonical,
    is_canonical,
    jcs,
    parse,
    plain,
    sha256_hex,
)
from tests.run import ROOT

# The six documents of github.com/cyberphone/json-canonicalization, testdata/input, as Python
# values; the hashes are of the files in testdata/output.
DOCUMENTS = {
    "arrays": (
        [56, {"d": True, "10": None, "1": []}],
        "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
    ),
    "french": (
        {
            "peach": "This sorting order",
            "p\u00e9ch\u00e9": "is wrong according to French",
            "p\u00eache": "but canonicalization MUST",
            "sin": "ignore locale",
        },
        "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5",
    ),
    "structures": (
        {
            "1": {"f": {"f": "hi", "F": 5}, "\n": 56.0},
            "10": {},
            "": "empty",
            "a": {},
            "111": [{"e": "yes", "E": "no"}],
            "A": {},
        },
        "605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5",
    ),
    "unicode": (
        {"Unnormalized Unicode": "A\u030a"},
        "0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3",
    ),
    "values": (
        {
            "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 1e-27],
            "string": "\u20ac$\x0f\nA'\x42\x22\x5c\\\"/",
            "literals": [None, True, False],
        },
        "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb",
    ),
    "weird": (
        {
            "\u20ac": "Euro Sign",
            "\r": "Carriage Return",
            "\n": "Newline",
            "1": "One",
            "\x80": "Control\x7f",
            "\U0001f602": "Smiley",
            "\u00f6": "Latin Small Letter O With Diaeresis",
            "\ufb33": "Hebrew Letter Dalet With Dagesh",
            "</script>": "Browser Challenge",
        },
        "6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1",
    ),
}
# RFC 8785, appendix B: a double's bits and its one text.
NUMBERS = {
    "4340000000000001": b"9007199254740994",
    "444b1ae4d6e2ef50": b"1e+21",
    "3eb0c6f7a0b5ed8d": b"0.000001",
    "3eb0c6f7a0b5ed8c": b"9.999999999999997e-7",
    "8000000000000000": b"0",
}
WHOLE = st.integers(-LARGEST, LARGEST)
VALUES = st.recursive(
    st.none() | st.booleans() | WHOLE | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text("ab\u00e9\U0001f602\ufb33", max_size=4), inner, max_size=4)
    ),
    max_leaves=20,
)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_published_documents_have_the_published_texts(name: str) -> None:
    value, expected = DOCUMENTS[name]
    assert sha256_hex(jcs(value)) == expected


@pytest.mark.parametrize("bits", NUMBERS)
def test_a_number_has_one_text(bits: str) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert jcs(value) == NUMBERS[bits]


def test_the_published_line_of_numbers() -> None:  # RFC 8785, 3.2.2
    numbers = [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001]
    expected = b'{"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27]}'
    assert jcs({"numbers": numbers}) == expected


@pytest.mark.parametrize("value", [1.5, 1.0, [{"a": 0.1}], float("nan")])
def test_what_is_signed_holds_no_floats(value: object) -> None:
    with pytest.raises(MalformedError, match="float"):
        canonical(value)


@pytest.mark.parametrize("value", [float("nan"), 2**53, "\ud800", {1: 2}, b"octets"])
def test_a_value_without_a_text_is_refused(value: object) -> None:
    with pytest.raises(MalformedError):
        jcs(value)


def test_an_accent_typed_in_two_ways_is_signed_in_one() -> None:
    assert canonical({"A\u030a": "e\u0301"}) == canonical({"\u00c5": "\u00e9"})
    assert jcs("e\u0301") != jcs("\u00e9")


def test_two_names_that_become_one_are_refused() -> None:
    with pytest.raises(MalformedError, match="twice"):
        canonical({"A\u030a": 1, "\u00c5": 2})


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}',
        '[{"b":{"a":1,"\\u0061":2}}]',
        "NaN",
        "[Infinity]",
        "-Infinity",
        '"\\ud83d"',
        '{"\\ude02":1}',
        "9007199254740992",
        "-9007199254740992",
        "9" * 5000,
        "-0",
        "1.0",
        "1e2",
        "1E400",
        "01",
        "[1,]",
        "{'a':1}",
        '"a\nb"',
        "[1] [2]",
        "",
        b"\xef\xbb\xbf[]",
        b'"\xff"',
        b'"\xed\xa0\x80"',
        b'"\xc0\x80"',
        "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1),
        "[" * 100_000,
        '{"a":' * 100_000,
    ],
)
def test_an_ambiguous_text_is_refused(text: str | bytes) -> None:
    assert plain(text) is None
    with pytest.raises(MalformedError):
        parse(text)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ('{"b":[true,null],"a":-3}', {"b": [True, None], "a": -3}),
        (b'"\xf0\x9f\x98\x82"', "\U0001f602"),
        ('"\\ud83d\\ude02"', "\U0001f602"),
        ("9007199254740991", LARGEST),
        ("-9007199254740991", -LARGEST),
        (" [ ] ", []),
        ("[" * DEEPEST + "]" * DEEPEST, None),
    ],
)
def test_a_plain_text_is_read(text: str | bytes, value: object) -> None:
    assert parse(text) == value or value is None


@given(VALUES)
def test_a_text_reads_back_and_is_written_alike(value: object) -> None:
    text = jcs(value)
    assert parse(text) == value
    assert jcs(parse(text)) == text
    assert canonical(parse(canonical(value))) == canonical(value)


NAMES = st.text(max_size=4) | st.sampled_from(
    ["\U0001f681", "\uff01", "\ufb33", "e\u0301", "é", "\u0338"]
)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST, LARGEST) | NAMES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=4),
    max_leaves=12,
)


def nearly(value):
    """Sorted by code points instead of UTF-16, its text as it is."""
    compact = {"ensure_ascii": False, "sort_keys": True, "separators": (",", ":")}
    return json.dumps(value, **compact).encode()


@given(VALUES, st.booleans())
@example({"\U0001f681": 1, "\uff01": 2}, True)
@example({"\U0001f681": 1, "\uff01": 2}, False)
def test_a_text_is_canonical_when_canonical_writes_it(value, in_nfc):
    """The fast way agrees with rfc8785, on canonical texts and on texts that are nearly so."""
    try:
        text = canonical(value) if in_nfc else nearly(value)
        read = parse(text)
        same = canonical(read) == text
    except (MalformedError, UnicodeEncodeError):
        return  # no text at all, or one name twice once composed
    assert is_canonical(read, text) is same
    assert is_canonical(read, text.decode()) is same
    assert plain(text) is None or (same and plain(text) == read)


def test_both_readers_go_forty_levels_deep() -> None:
    assert DEEPEST == 40
    assert "const DEEPEST = 40;" in (ROOT / "static/js/canonical.js").read_text()


@given(VALUES | st.floats() | st.integers() | st.dictionaries(st.integers(), st.text()))
@example([LARGEST + 1])
@example([(1, 2)])
@example({"a": {True: 1}})
def test_every_value_has_the_text_that_rfc8785_writes(value):
    try:
        expected = rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError):
        with pytest.raises(MalformedError):
            jcs(value)
    else:
        assert jcs(value) == expected


def test_an_accent_after_a_line_end_is_not_borne_by_the_n_that_stands_for_it():
    text = canonical({"remark": "First.\n\u0301"})
    assert is_canonical(parse(text), text)
