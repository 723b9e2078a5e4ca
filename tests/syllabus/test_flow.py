"""A run through the checklist: what was left out, done again, or done out of order."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.checklist import AircraftType, Block, Item
from syllabus.errors import Severity
from syllabus.flow import FlowResult, Step, align, proposals
from syllabus.limits import work_out
from syllabus.reading import load_course
from syllabus.sequence import Edit, distance, steps
from tests.course_files import FILES

COURSE = load_course(FILES)
TYSTIE = COURSE.aircraft[0]
RUN_UP = ("warm", "right", "left", "both", "needles")
FREE = ("belts", "doors", "frictions")


def a_flow(*blocks: str) -> AircraftType:
    """Blocks of one-letter items under one heading; in a block such as `~abc` order is free."""
    made = tuple(
        Block(
            f"block-{place}",
            "Flow",
            "Block",
            letters.startswith("~"),
            tuple(Item(one, one.upper(), "set", "run-up") for one in letters.lstrip("~")),
        )
        for place, letters in enumerate(blocks)
    )
    return AircraftType("t", "T", "RH", "", made, (), (), ())


def flown(aircraft: AircraftType, *items: str, checklist: str | None = None) -> FlowResult:
    return align(aircraft, [Step(item) for item in items], checklist)


def told(result: FlowResult) -> dict[str, list[str]]:
    """What is wrong with a run, by kind; kinds with nothing are left out."""
    found = {
        "omitted": [item.code for item in result.omissions],
        "swapped": [swap.words for swap in result.swaps],
        "again": [item.code for item in result.insertions],
    }
    return {kind: codes for kind, codes in found.items() if codes}


@pytest.mark.parametrize(
    ("expected", "done", "edits"),
    [
        ("abcd", "acbd", 1),  # neighbours swapped, optimal string alignment
        ("ca", "abc", 3),  # optimal string alignment; Damerau's unrestricted distance is 2
        ("kitten", "sitting", 3),  # Levenshtein
        ("", "", 0),
        ("abc", "", 3),
        ("", "abc", 3),
    ],
)
def test_the_distance_is_that_of_optimal_string_alignment(expected, done, edits):
    assert distance(expected, done) == edits
    assert sum(step.edit is not Edit.KEPT for step in steps(expected, done)) == edits


@given(st.text("abcde", max_size=7), st.text("abcde", max_size=7))
def test_the_steps_account_for_everything_expected_and_done(expected, done):
    left, right = "", ""
    for step in steps(expected, done):
        left += step.expected or ""
        if step.edit is Edit.SWAPPED:
            left += step.done or ""
            right += (step.done or "") + (step.expected or "")
        else:
            right += step.done or ""
    assert (left, right) == (expected, done)


def test_a_run_in_order_shows_nothing():
    result = flown(TYSTIE, *FREE, *RUN_UP)
    assert told(result) == {}
    assert (result.expected, result.distance) == (8, 0)


def test_right_before_left_leaves_both_one_click_away():
    # common practice, no published source: OFF, RIGHT, LEFT, BOTH lie side by side on the key
    assert told(flown(TYSTIE, *RUN_UP)) == {}
    result = flown(TYSTIE, "warm", "left", "right", "both", "needles")
    assert told(result) == {
        "swapped": ["Selector left done before Selector right, belongs after it"]
    }
    (mark,) = proposals(result, (), COURSE, TYSTIE)
    assert (mark.task, mark.error, mark.found) == ("run-up", "RU-04", "flow")
    assert mark.severity is Severity.SAFETY_CRITICAL


@given(st.permutations(FREE))
def test_any_order_inside_a_free_block_costs_nothing(order):
    result = flown(TYSTIE, *order, *RUN_UP)
    assert (told(result), result.distance) == ({}, 0)


@given(st.lists(st.sampled_from("abcxydef"), max_size=12))
def test_no_item_is_out_of_order_with_its_own_free_block(done):
    result = flown(a_flow("~abc", "xy", "~def"), *done)
    for swap in result.swaps:
        pair = {swap.item.code, swap.other.code}
        assert not pair <= set("abc")
        assert not pair <= set("def")


@given(st.permutations("abcde"), st.permutations("xyz"))
def test_free_blocks_keep_their_own_order_among_each_other(first, second):
    kind = a_flow("~abcde", "m", "~xyz")
    assert flown(kind, *first, "m", *second).distance == 0
    assert flown(kind, *second, "m", *first).distance > 0


def test_a_free_item_done_in_another_block_is_out_of_order():
    result = flown(a_flow("~abc", "xy"), "c", "a", "x", "b", "y")
    assert told(result) == {"swapped": ["X done before B, belongs after it"]}


def test_an_item_left_out_is_an_omission():
    result = flown(TYSTIE, "warm", "right", "left", "needles")
    assert told(result) == {"omitted": ["both"]}
    (mark,) = proposals(result, (), COURSE, TYSTIE)
    assert (mark.error, mark.why) == ("RU-04", "Selector both left out")


def test_a_critical_item_left_out_proposes_the_safety_critical_error():
    result = flown(TYSTIE, "warm", "right", "left", "both")
    (mark,) = proposals(result, (), COURSE, TYSTIE)
    assert (mark.error, mark.severity) == ("flow-omitted-critical", Severity.SAFETY_CRITICAL)


def test_an_item_that_is_not_critical_proposes_the_procedural_error():
    result = flown(TYSTIE, "right", "left", "both", "needles")
    (mark,) = proposals(result, (), COURSE, TYSTIE)
    assert (mark.error, mark.severity) == ("flow-omitted", Severity.PROCEDURAL)


def test_an_item_done_much_too_late_is_told_against_the_one_it_belongs_before():
    result = flown(TYSTIE, "right", "left", "both", "needles", "warm")
    words = "Oil temperature done after Selector right, belongs before it"
    assert told(result) == {"swapped": [words]}
    (mark,) = proposals(result, (), COURSE, TYSTIE)
    assert (mark.error, mark.why) == ("RU-04", words)


def test_an_item_done_much_too_early_is_told_against_the_one_it_belongs_after():
    result = flown(a_flow("abcde"), "e", "a", "b", "c", "d")
    assert told(result) == {"swapped": ["E done before D, belongs after it"]}


def test_one_item_done_late_is_the_one_that_moved():
    result = flown(a_flow("abcdefgh"), *"acdefghb")
    assert [item.code for item in result.moved] == ["b"]
    assert result.agreement == pytest.approx(0.5714, abs=5e-5)  # computed with scipy


@given(st.permutations("bcd"))
def test_inside_a_free_block_nothing_moves(order):
    result = flown(a_flow("a", "~bcd", "e"), "a", *order, "e")
    assert (result.moved, result.agreement) == ((), 1.0)


def test_an_item_between_two_swapped_ones_is_two_edits():
    # CA -> ABC: Damerau's unrestricted distance is 2 (computed with rapidfuzz)
    result = flown(a_flow("ca", "b"), *"acb")
    assert result.distance == 1
    result = align(a_flow("ca", "b"), [Step(one) for one in "abc"], "Flow")
    assert result.distance == 2


def test_an_item_done_again_is_neither_omitted_nor_swapped():
    result = flown(a_flow("abcd"), "a", "b", "b", "c", "d")
    assert told(result) == {"again": ["b"]}


def test_an_item_done_too_early_and_again_in_its_place_is_only_done_again():
    result = flown(a_flow("abcd"), "a", "c", "b", "c", "d")
    assert told(result) == {"again": ["c"]}


def test_a_free_item_done_again_costs_one_wherever_it_was():
    assert told(flown(a_flow("~abc", "xy"), "b", "a", "c", "x", "b", "y")) == {"again": ["b"]}
    assert told(flown(a_flow("xy", "~abc"), "b", "x", "y", "c", "b", "a")) == {"again": ["b"]}


def test_what_needed_a_word_counts_as_done_and_is_named_once():
    run = [Step(item, prompted=item == "left") for item in (*RUN_UP, "left")]
    result = align(TYSTIE, run, "Run-up")
    assert [item.code for item in result.prompts] == ["left"]
    assert result.omissions == ()


def test_items_of_other_checklists_are_not_omitted():
    assert told(flown(TYSTIE, *RUN_UP, checklist="Run-up")) == {}
    assert told(flown(TYSTIE, *RUN_UP)) == {}
    assert told(flown(TYSTIE, *FREE)) == {}


def test_an_item_from_outside_the_declared_checklist_is_put_in():
    assert told(flown(TYSTIE, "belts", *RUN_UP, checklist="Run-up")) == {"again": ["belts"]}


def test_a_run_declared_and_never_begun_leaves_everything_out():
    assert told(flown(TYSTIE, checklist="Before start")) == {"omitted": list(FREE)}


def test_no_steps_and_no_declaration_show_nothing():
    result = flown(TYSTIE)
    assert (told(result), result.expected) == ({}, 0)
    assert proposals(result, (), COURSE, TYSTIE) == ()
    assert proposals(None, (), COURSE, TYSTIE) == ()
    assert told(flown(a_flow())) == {}


def test_items_the_aircraft_does_not_have_are_ignored():
    assert told(flown(TYSTIE, "propeller", *RUN_UP)) == {}


def test_readings_out_of_limit_propose_their_errors_with_every_reason():
    values = {"left-drop": 0, "right-drop": 165, "needles-split": "no", "oil-temperature": 45}
    marks = proposals(None, work_out(TYSTIE, values), COURSE, TYSTIE)
    assert [(mark.task, mark.error, mark.found) for mark in marks] == [
        ("run-up", "RU-05", "reading"),
        ("run-up", "reading-out-of-limit", "reading"),
    ]
    assert marks[0].why == (
        "Left magneto drop 0 rpm, limit over 0, at most 150 rpm; "
        "Right magneto drop 165 rpm, limit over 0, at most 150 rpm; "
        "left 0, right 165, difference 165, limit 50 rpm"
    )


def test_marks_come_in_the_order_of_the_tasks():
    result = flown(TYSTIE, "belts", "doors", "warm", "right", "left", "both")
    marks = proposals(result, work_out(TYSTIE, {"left-drop": 151}), COURSE, TYSTIE)
    assert [(mark.task, mark.error) for mark in marks] == [
        ("before-start", "BS-01"),
        ("run-up", "RU-05"),
        ("run-up", "flow-omitted-critical"),
    ]


def test_tasks_and_errors_the_course_no_longer_has_do_not_crash():
    item = Item("a", "A", "set", "gone")
    other = Item("b", "B", "set", "run-up", omitted="XX-99")
    kind = AircraftType(
        "t", "T", "RH", "", (Block("x", "X", "X", False, (item, other)),), (), (), ()
    )
    marks = proposals(flown(kind, checklist="X"), (), COURSE, kind)
    assert [(mark.task, mark.error) for mark in marks] == [("run-up", "flow-omitted")]


@given(st.lists(st.sampled_from([*FREE, *RUN_UP, "unknown"]), max_size=14))
def test_any_run_is_told_without_contradiction(done):
    result = flown(TYSTIE, *done)
    omitted = {item.code for item in result.omissions}
    assert omitted.isdisjoint(done)
    begun = [items for items in (FREE, RUN_UP) if set(items) & set(done)]
    assert omitted == {code for items in begun for code in items} - set(done)
    assert (result.distance == 0) == (told(result) == {})
    for mark in proposals(result, (), COURSE, TYSTIE):
        assert mark.why
        assert COURSE.task_by_code[mark.task].error(mark.error).severity is mark.severity
