"""Course files that are right, and everything that can be wrong with them."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syllabus.course import LessonKind, Phase
from syllabus.errors import Severity
from syllabus.faults import CourseError
from syllabus.reading import load_course, read_course, read_folder
from syllabus.standards import Bounds
from tests.course_files import FILES, changed, line_of


def test_a_course_is_read_whole():
    course = load_course(FILES)
    assert [task.code for task in course.tasks] == [
        "carburettor-ice", "before-start", "run-up", "hover",
    ]  # fmt: skip
    ice, run_up, hover = (course.tasks[place] for place in (0, 2, 3))
    assert (ice.phase, ice.scale.standard) == (Phase.KNOWLEDGE, "knows")
    assert run_up.error("RU-05").severity is Severity.SAFETY_CRITICAL
    assert hover.standard.criteria[0].bounds == Bounds(at_least=-3.5, at_most=3.5)
    first, last = course.lessons
    assert first.tasks[0].target == "knows"
    assert (last.kind, last.tasks[0].target) == (LessonKind.STAGE_CHECK, "manage-decide")
    stage = course.stages[0]
    assert (stage.check, stage.tests[0].kind) == (last, "test")
    assert course.requirement_sets[0].rules[0].bounds.at_least == 40
    assert len(course.revision) == 64
    tystie = course.aircraft_type("tystie")
    assert tystie is not None
    assert [block.any_order for block in tystie.blocks] == [True, False, False]
    assert tystie.item("right").reading == tystie.reading("right-drop").code
    assert course.stage_of["h-2"] is stage
    assert course.flow_place["hover"] == 3


def test_every_fault_is_told_in_one_go():
    files = changed("course.toml", "consecutive = 2", "consecutive = 0")
    files["tasks/flight.toml"] = FILES["tasks/flight.toml"].replace('"ft"', '"feet"')
    files["stages/1-ground.toml"] = FILES["stages/1-ground.toml"].replace('"dual"', '"both"')
    with pytest.raises(CourseError) as caught:
        load_course(files)
    assert [(fault.file, fault.line) for fault in caught.value.faults] == [
        ("course.toml", 7),
        ("stages/1-ground.toml", 6),
        ("stages/1-ground.toml", 19),
        ("tasks/flight.toml", 8),
    ]


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_syntax_error_is_told_by_its_line(name):
    broken = FILES[name].replace(" = ", " : ", 1)
    _, faults = read_course({**FILES, name: broken})
    line = line_of(name, " = ")
    assert [
        (fault.file, fault.line) for fault in faults if "not valid TOML" in fault.words
    ] == [(name, line)]


def test_a_file_that_cannot_be_parsed_makes_nothing_else_unknown():
    _, faults = read_course({**FILES, "tasks/ground.toml": "[[task"})
    assert [fault.file for fault in faults] == ["tasks/ground.toml"]


def test_a_key_given_twice_is_told():
    files = changed("course.toml", "consecutive = 2", "consecutive = 2\nconsecutive = 2")
    _, faults = read_course(files)
    assert [(fault.line, fault.words) for fault in faults] == [
        (8, "This name is given twice: take one out.")
    ]


def test_a_missing_key_is_told_at_its_table():
    _, faults = read_course(changed("tasks/ground.toml", 'title = "Run-up"\n', ""))
    line = line_of("tasks/ground.toml", '[[task]]\ncode = "run-up"')
    assert [(fault.line, fault.words) for fault in faults] == [
        (line, "The key `title` is missing: add it, with words in quotes.")
    ]


def test_bytes_that_are_not_utf_8_are_told_by_their_line(tmp_path):
    for name, text in FILES.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    latin = FILES["tasks/flight.toml"].replace("Stays", "Stäys").encode("latin-1")
    (tmp_path / "tasks/flight.toml").write_bytes(latin)
    _, faults = read_course(read_folder(tmp_path))
    assert [(fault.file, fault.line) for fault in faults] == [("tasks/flight.toml", 5)]


def test_windows_line_endings_and_a_byte_order_mark_are_no_fault():
    files = {name: "\ufeff" + text.replace("\n", "\r\n") for name, text in FILES.items()}
    assert read_course(files)[1] == ()


def test_reading_a_folder_passes_over_other_and_hidden_files(tmp_path):
    for name in ("course.toml", "tasks/a.toml", "tasks/.a.toml", ".git/x.toml", "notes.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("")
    assert set(read_folder(tmp_path)) == {"course.toml", "tasks/a.toml"}


@pytest.mark.parametrize("name", ["task/ground.toml", "tasks.toml", "notes.toml"])
def test_a_file_the_format_does_not_know_is_told(name):
    _, faults = read_course({**FILES, name: ""})
    assert [fault.file for fault in faults] == [name]


def test_no_files_at_all_is_told_and_does_not_crash():
    _, faults = read_course({})
    assert [fault.words for fault in faults] == ["This file is missing: every course needs it."]


def test_an_empty_course_file_says_what_is_missing():
    _, faults = read_course({**FILES, "course.toml": ""})
    told = " ".join(fault.words for fault in faults if fault.file == "course.toml")
    assert all(f"`{key}`" in told for key in ("code", "title", "category", "flow", "stages"))


def test_a_stage_that_the_course_does_not_list_is_told_and_read():
    other = FILES["stages/1-ground.toml"].replace('"stage-check"', '"dual"')
    _, faults = read_course({**FILES, "stages/2-x.toml": other})
    told = [fault.words for fault in faults if fault.file == "stages/2-x.toml"]
    assert any("does not list this file" in words for words in told)
    assert any("must be of kind stage-check" in words for words in told)


def test_a_checklist_that_contradicts_the_flow_is_told_at_the_item():
    flow = changed(
        "course.toml", '"before-start",\n  "run-up",', '"run-up",\n  "before-start",'
    )
    _, faults = read_course(flow)
    line = line_of("aircraft/tystie.toml", '{ code = "warm", words = "Oil temperature", expect')
    assert [(fault.file, fault.line) for fault in faults] == [("aircraft/tystie.toml", line)]


def test_deep_nesting_is_told_and_does_not_crash():
    _, faults = read_course({**FILES, "scales.toml": "a = " + "[" * 5000 + "]" * 5000})
    assert [fault.words for fault in faults if fault.file == "scales.toml"] == [
        "The brackets in this file are nested too deeply."
    ]


VALUES = st.sampled_from(
    ["1", "-1", "1e400", "nan", "true", '""', '"x"', "[]", "[1]", "[[]]", "{}", "{ code = 1 }",
     "[{}]", '[{ code = "a", code2 = [] }]', "2024-01-01", "0x10", "'''\n'''"]
)  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_no_change_of_a_value_makes_reading_crash(data):
    name = data.draw(st.sampled_from(sorted(FILES)))
    lines = FILES[name].splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        key, equals, _ = lines[at].partition(" = ")
        lines[at] = f"{key}{equals}{data.draw(VALUES)}"
    course, faults = read_course({**FILES, name: "\n".join(lines)})
    assert (course is None) == bool(faults)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_cut_or_typing_error_makes_reading_crash(data):
    name = data.draw(st.sampled_from(sorted(FILES)))
    text = FILES[name]
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 80)))
    typed = data.draw(st.text(max_size=5))
    course, faults = read_course({**FILES, name: text[:start] + typed + text[end:]})
    assert (course is None) == bool(faults)
    assert all(fault.line >= 1 and fault.words for fault in faults)
