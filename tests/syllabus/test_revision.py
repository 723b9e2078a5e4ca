"""Revisions: a course's content names it, and what changed is told in words."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.reading import load_course
from syllabus.revision import content_hash, differences
from tests.course_files import FILES, changed

GROUND, STAGE = "tasks/ground.toml", "stages/1-ground.toml"


@given(st.permutations(sorted(FILES)))
def test_the_order_of_the_files_does_not_matter(names):
    assert content_hash({name: FILES[name] for name in names}) == content_hash(FILES)


@pytest.mark.parametrize("ending", ["\r\n", "\r"])
def test_the_kind_of_line_ending_does_not_matter(ending):
    other = {name: text.replace("\n", ending) for name, text in FILES.items()}
    assert content_hash(other) == content_hash(FILES)


def test_the_name_of_a_revision_is_a_sha_256_in_hex():
    assert re.fullmatch(r"[0-9a-f]{64}", content_hash({}))


def test_a_comment_and_a_files_name_count():
    names = {
        content_hash(files)
        for files in (
            FILES,
            changed("course.toml", "# every task", "# each task"),
            {("tasks/air.toml" if name == "tasks/flight.toml" else name): text
             for name, text in FILES.items()},
        )
    }  # fmt: skip
    assert len(names) == 3


@given(st.text(max_size=4), st.text(max_size=4), st.text(max_size=4))
def test_text_moved_from_one_file_to_the_next_is_another_revision(one, two, moved):
    first = {"a": one + "x" + moved, "b": two}
    second = {"a": one + "x", "b": moved + two}
    assert (content_hash(first) == content_hash(second)) == (
        {name: text.replace("\r\n", "\n").replace("\r", "\n") for name, text in first.items()}
        == {
            name: text.replace("\r\n", "\n").replace("\r", "\n")
            for name, text in second.items()
        }
    )


@pytest.mark.parametrize(
    ("name", "old", "new", "told"),
    [
        ("course.toml", "# every task", "# each task", []),
        ("course.toml", "consecutive = 2", "consecutive = 3", ["Course: consecutive changed"]),
        (GROUND, 'title = "Run-up"', 'title = "Run up"', ["Task run-up: title changed"]),
        (GROUND, "against its limits", "by its limits", ["Task run-up: standard changed"]),
        (GROUND, "at_least = 2,", "at_least = 3,", ["Task run-up: criterion settle changed"]),
        (GROUND, '{ code = "RU-05", words = "Accepts', '{ code = "RU-05", words = "Takes',
         ["Task run-up: error RU-05 changed"]),
        (GROUND, '{ code = "BS-01"', '{ code = "BS-02", words = "Hurries", severity = '
         '"technique" },\n  { code = "BS-01"', ["Task before-start: error BS-02 added"]),
        (GROUND, 'scale = "KELP-2"', 'scale = "LVL-4"',
         ["Lesson h-1: target of carburettor-ice changed from knows to application",
          "Task carburettor-ice: scale changed from KELP-2 to LVL-4"]),
        (STAGE, "ground_minutes = 60", "ground_minutes = 45",
         ["Lesson h-1: ground minutes changed"]),
        (STAGE, '"run-up", target = "explain"', '"run-up", target = "practice"',
         ["Lesson h-1: target of run-up changed from explain to practice"]),
        (STAGE, '  { task = "before-start", target = "explain" },\n', "",
         ["Lesson h-1: task before-start removed"]),
        (STAGE, '  { task = "hover"', '  { task = "before-start" },\n  { task = "hover"',
         ["Lesson h-2: task before-start added, target perform"]),
        (STAGE, "at_least = 1.5", "at_least = 2", ["Stage stage-1: hours changed"]),
        (STAGE, 'code = "h-1"', 'code = "h-0"',
         ["Stage stage-1: lessons or their order changed", "Lesson h-1 removed",
          "Lesson h-0 added"]),
        ("requirements.toml", "40.0", "35.0",
         ["Requirement set 61.109(c): rules changed"]),
        ("aircraft/tystie.toml", "at_most = 50", "at_most = 40",
         ["Aircraft type tystie: limits changed"]),
        ("scales.toml", "Does not know", "Knows nothing",
         ["Task carburettor-ice: levels of its scale KELP-2 changed"]),
    ],
)  # fmt: skip
def test_what_changed_is_told_in_words(name, old, new, told):
    assert differences(load_course(FILES), load_course(changed(name, old, new))) == told


def test_another_order_of_the_flow_is_told():
    files = {name: text for name, text in FILES.items() if name != "aircraft/tystie.toml"}
    flow = FILES["course.toml"].replace('"before-start",\n', "")
    moved = flow.replace('"hover",', '"hover",\n  "before-start",')
    again = {**files, "course.toml": moved}
    assert differences(load_course(files), load_course(again)) == [
        "Course: order of the flow changed"
    ]
