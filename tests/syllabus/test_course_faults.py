"""Every kind of mistake in a course file is told with its file, its line and what to do."""

import pytest

from syllabus.reading import read_course
from tests.course_files import changed, line_of

HEAD, GROUND, FLIGHT = "course.toml", "tasks/ground.toml", "tasks/flight.toml"
STAGE, RULES, SCALES = "stages/1-ground.toml", "requirements.toml", "scales.toml"
TYSTIE = "aircraft/tystie.toml"

# file, what is replaced, by what, words the fault holds; its line is that of the old text
WRONG = [
    (HEAD, 'title = "Short course"', "title = 7", "must be words in quotes"),
    (HEAD, 'title = "Short course"', 'title = " "', "is empty"),
    (HEAD, 'code = "tystie-short"', 'code = "Tystie Short"', "is no code"),
    (HEAD, 'code = "tystie-short"', f'code = "{"x" * 41}"', "is no code"),
    (HEAD, 'category = "RH"', 'category = "RX"', "use one of RH, ASEL"),
    (HEAD, 'scale = "LCG-MAN"', 'scale = "LCG-MEN"', "Did you mean LCG-MAN?"),
    (HEAD, "consecutive = 2", "consecutive = 0", "whole number, 1 or more"),
    (HEAD, "consecutive = 2", "consecutive = true", "whole number, 1 or more"),
    (HEAD, 'summary = "A', 'sumary = "A', "no key `sumary` here. Did you mean summary?"),
    (HEAD, '  "run-up",', '  "runup",', "There is no task `runup`. Did you mean run-up?"),
    (HEAD, '  "hover",', '  "hover", "hover",', "names `hover` twice"),
    (HEAD, '  "hover",', "  7,", "takes words in quotes"),
    (HEAD, 'stages = ["stages/1-ground.toml"]', 'stages = ["stages/2.toml"]', "no file"),
    (HEAD, 'stages = ["stages/1-ground.toml"]', 'stages = "stages"', "list in square brackets"),
    (HEAD, 'prerequisites = ["Medical', 'prerequisites = ["", "Medical', "none of them empty"),
    (GROUND, 'phase = "ground"', 'phase = "grond"', "Did you mean ground?"),
    (GROUND, 'scale = "KELP-2"', 'scale = "KELP-3"', "There is no grade scale `KELP-3`"),
    (GROUND, '{ code = "RU-05"', '{ code = "RU-04"', "The error `RU-04` is already in"),
    (GROUND, '{ code = "RU-05"', '{ code = "BS-01"', "tasks/ground.toml, line 18"),
    (GROUND, '{ code = "RU-05"', '{ code = "flow-omitted"', "every task has"),
    (GROUND, 'one side", severity = "safety', 'one", severity = "saftey', "Did you mean"),
    (GROUND, "at_least = 2, unit", "unit", "has no limit"),
    (GROUND, "at_least = 2, unit", 'at_least = "2", unit', "number without quotes"),
    (GROUND, "at_least = 2, unit", "at_least = nan, unit", "number without quotes"),
    (GROUND, "at_least = 2, unit", f"at_least = {'9' * 400}, unit", "number without quotes"),
    (GROUND, 'unit = "s"', 'unit = "sec"', "`unit` cannot be `sec`"),
    (GROUND, 'code = "run-up"', 'code = "hover"', "already in tasks/flight.toml, line 2:"),
    (FLIGHT, "at_least = -3.5", "at_least = 4", "nothing lies between 4 and 3.5"),
    (FLIGHT, "at_least = -3.5", "above = 3.5", "contradict each other"),
    (FLIGHT, "at_most = 3.5", "at_most = 3, below = 4", "not both"),
    (FLIGHT, "at_least = -3.5", "at_least = -3, above = 0", "not both"),
    (STAGE, 'target = "explain"', 'target = "manage-decide"', "not a level of LCG-MAN"),
    (STAGE, '{ task = "hover"', '{ task = "hoover"', "Did you mean hover?"),
    (STAGE, '{ task = "before-start"', '{ task = "carburettor-ice"', "already in this lesson"),
    (STAGE, 'kind = "dual"', 'kind = "stage-check"', "Only the last lesson"),
    (STAGE, 'kind = "stage-check"', 'kind = "dual"', "must be of kind stage-check"),
    (STAGE, 'code = "h-2"', 'code = "h-1"', "The lesson `h-1` is already in"),
    (STAGE, "ground_minutes = 60", "ground_minutes = 1.5", "whole number"),
    (STAGE, 'requirements = "61.109(c)"', 'requirements = "61.109(a)"', "requirement set"),
    (STAGE, '{ code = "dual"', '{ code = "duel"', "Did you mean dual?"),
    (STAGE, 'kind = "document"', 'kind = "paper"', "use one of document"),
    (STAGE, '  { task = "run-up" },', '  "run-up",', "tables in curly brackets"),
    (STAGE, "at_least = 1.5, source", "source", "These hours have no limit"),
    (RULES, "at_least = 40.0, unit", "unit", "This rule has no limit"),
    (RULES, 'measure = "total"', 'measure = "totals"', "Did you mean total?"),
    (RULES, 'unit = "h"', 'unit = "nm"', "measured in h, not nm"),
    (RULES, 'effective_from = "2024-10-01"', 'effective_from = "1 Oct"', "must be a day"),
    (RULES, "verified_by", 'test_type = "tysty"\nverified_by', "Did you mean tystie?"),
    (SCALES, 'code = "KELP-2"', 'code = "LCG-SRM"', "is a public scale"),
    (SCALES, 'standard = "knows"', 'standard = "known"', "Did you mean knows?"),
    (SCALES, '{ code = "guesses"', '{ code = "left-blank"', "cannot be a level"),
    (SCALES, '{ code = "guesses"', '{ code = "knows"', None),
    (TYSTIE, 'category = "RH"', 'category = "ASEL"', "is ASEL, the course RH"),
    (TYSTIE, "any_order = true", 'any_order = "yes"', "true or false"),
    (TYSTIE, '"degC", task = "run-up"', '"degC", task = "runup"', "There is no task `runup`"),
    (TYSTIE, '{ code = "right-drop"', '{ code = "left-drop"', "reading `left-drop` is already"),
    (TYSTIE, 'of = ["left-drop", "right-drop"]', 'of = ["left-drop"]', "name two readings"),
    (TYSTIE, 'of = ["left-drop", "right-drop"]', 'of = ["left-drop", "x"]', "no reading `x`"),
    (TYSTIE, 'of = ["left-drop", "right-drop"]', 'of = ["left-drop", "left-drop"]', "twice"),
    (TYSTIE, "[\"left-drop\", \"right-drop\"], unit = \"rpm\"",
     "[\"left-drop\", \"needles-split\"], unit = \"rpm\"", "read in yes-no, this is in rpm"),
    (TYSTIE, "[\"left-drop\", \"right-drop\"], unit = \"rpm\"",
     "[\"left-drop\", \"right-drop\"], unit = \"yes-no\"", "worked out of yes and no"),
    (TYSTIE, 'of = "oil-temperature"', 'of = ""', "`of` is empty"),
    (TYSTIE, 'how = "spread"', 'how = "sum"', "use one of difference, spread"),
    (TYSTIE, 'of = "oil-temperature"', 'of = "oil-temp"', "Did you mean oil-temperature?"),
    (TYSTIE, "at_least = 40, words", 'expect = "yes", words', "is for readings of yes or no"),
    (TYSTIE, "at_least = 40, words", "words", "Give either limits"),
    (TYSTIE, 'breach = "RU-05"', 'breach = "BS-01"', "no error of the task run-up"),
    (TYSTIE, 'swapped = "RU-04"', 'swapped = "RU-044"', "Did you mean RU-04?"),
    (TYSTIE, 'omitted = "BS-01"', 'omitted = "RU-04"', "no error of the task before-start"),
    (TYSTIE, 'reading = "right-drop"', 'reading = "drop"', "There is no reading `drop`"),
    (TYSTIE, 'reading = "left-drop"', 'reading = "right-drop"', "already takes the reading"),
    (TYSTIE, '{ code = "doors"', '{ code = "belts"', "The item `belts` is already in"),
    (TYSTIE, 'code = "sprag"', 'code = "cockpit"', "The block `cockpit` is already in"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "words"), WRONG)
def test_a_fault_names_its_file_its_line_and_what_to_do(name, old, new, words):
    course, faults = read_course(changed(name, old, new))
    assert course is None
    if words is None:
        assert faults
        return
    told = [(fault.file, fault.line) for fault in faults if words in fault.words]
    assert told == [(name, line_of(name, old))], faults


def test_a_knowledge_task_after_the_others_is_told():
    first = '"carburettor-ice",\n  "before-start",'
    files = changed(HEAD, first, '"before-start",\n  "carburettor-ice",')
    _, faults = read_course(files)
    assert [(fault.file, fault.line, fault.words) for fault in faults] == [
        (HEAD, 11, "Knowledge tasks come first: move `carburettor-ice` before `before-start`.")
    ]


def test_device_credit_below_nothing_is_told():
    _, faults = read_course(changed(RULES, 'on = ""', 'on = ""\ndevice_credit = -1'))
    assert [(fault.line, fault.words) for fault in faults] == [
        (line_of(RULES, "verified_on") + 1, "`device_credit` cannot be below 0.")
    ]


def test_a_stage_listed_twice_is_told():
    stage = '"stages/1-ground.toml"'
    _, faults = read_course(changed(HEAD, stage, f"{stage}, {stage}"))
    assert [fault.words for fault in faults] == [
        "`stages/1-ground.toml` is listed twice: take one out."
    ]


def test_a_scale_of_one_level_is_told():
    level = '  { code = "guesses", words = "Guesses", meaning = "Does not know" },\n'
    _, faults = read_course(changed(SCALES, level, ""))
    assert [(fault.file, fault.line, fault.words) for fault in faults] == [
        (SCALES, 6, "A scale needs at least two levels, the lowest first.")
    ]


def test_a_scale_nobody_defined_because_its_file_is_broken_is_not_unknown():
    _, faults = read_course(changed(SCALES, "[[scale]]", "[[scale]"))
    assert {fault.file for fault in faults} == {SCALES}
