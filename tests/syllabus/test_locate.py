"""Where things stand in a TOML text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.locate import Lines

TEXT = '''\
# a comment with [brackets] and key = 1
title = "a # no comment [[x]]"
words = """
[[task]]
code = "inside words"
"""
list = [ # [
  "one", "two",

  # between
  "three ]",
  { code = "x", deep = [1,
    2] },
]
a."b.c".d = 3
raw = \'\'\'
key = 1
\'\'\'

[table]
key = 'x = [1]'

[[task]]
code = "first"

[[task]]
code = "second"
[[task.part]]
code = "part"
[task.sub]
key = 1
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("words",), 3),
        (("list",), 7),
        (("list", 0), 8),
        (("list", 1), 8),
        (("list", 2), 11),
        (("list", 3, "code"), 12),
        (("list", 3, "deep", 1), 13),
        (("a", "b.c", "d"), 15),
        (("raw",), 16),
        (("table",), 20),
        (("table", "key"), 21),
        (("task", 0, "code"), 24),
        (("task", 1), 26),
        (("task", 1, "code"), 27),
        (("task", 1, "part", 0, "code"), 29),
        (("task", 1, "sub", "key"), 31),
    ],
)
def test_a_path_has_the_line_it_stands_on(path, line):
    assert Lines(TEXT).of(path) == line
    assert Lines(TEXT.replace("\n", "\r\n")).of(path) == line


def test_a_path_without_a_line_has_that_of_what_is_around_it():
    assert Lines(TEXT).of(("task", 1, "missing", 7)) == 26
    assert Lines(TEXT).of(("missing",)) == 1
    assert Lines("").of(("missing",)) == 1


@given(st.text(alphabet="[]{}=,\"'#\n\\ a.1", max_size=40))
def test_any_text_at_all_is_gone_through(text):
    assert Lines(text).of(("a",)) >= 1
