"""Statements in words."""

from gradebook.records.kinds import kind_words, lines
from gradebook.records.mirrors import CHANGES, MADE


def test_every_kind_that_makes_or_changes_a_row_has_words() -> None:
    for kind in {**MADE, **CHANGES}:
        assert kind_words(kind, {}) != kind


def test_an_amendment_is_called_one() -> None:
    assert kind_words("record.sign", {"amends": None}) == "A lesson record was signed"
    assert kind_words("record.sign", {"amends": "other"}) == "A lesson record was amended"


def test_each_grade_is_a_line_and_what_is_empty_is_none() -> None:
    body = {
        "flown_on": "2026-05-18",
        "remarks": "",
        "grades": [
            {"task": "hover", "level": "perform", "meets": True, "remark": ""},
            {"task": "run-up", "level": "practice", "meets": False, "remark": "Late."},
        ],
        "snapshot": {"ready": True, "missing": []},
        "card": {"typed": "as it was"},
    }
    assert lines(body) == [
        ("flown on", "2026-05-18"),
        ("grades 1", "task hover, level perform, meets yes"),
        ("grades 2", "task run-up, level practice, meets no, remark Late."),
        ("snapshot", "ready yes"),
    ]
