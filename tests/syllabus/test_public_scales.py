"""The public scales as standards define them; the source stands beside each."""

import pytest

from syllabus.scales import (
    HOW_MANY,
    HOW_OFTEN,
    LEFT_BLANK,
    NOT_OBSERVED,
    OUTCOME,
    PUBLIC,
    word_picture,
)

# code, levels with ranks, first level that meets the standard
DEFINED = [
    # FAA-H-8083-9, chapter 6
    ("LCG-MAN", {"describe": 1, "explain": 2, "practice": 3, "perform": 4}, "perform"),
    # FAA-H-8083-9, chapter 1
    ("LCG-SRM", {"explain": 1, "practice": 2, "manage-decide": 3}, "manage-decide"),
    # FAA-S-ACS-6C
    ("ACS-SU", {"unsatisfactory": 0, "satisfactory": 1}, "satisfactory"),
    # FAA-H-8083-9, chapter 9
    ("TRAD-3", {"needs-more-training": 1, "meets": 2, "exceeds": 3}, "meets"),
    # FAA-H-8083-9, chapter 9; that good is the standard is policy
    ("TRAD-4", {"poor": 1, "fair": 2, "good": 3, "excellent": 4}, "good"),
    # AMC4 ORO.FC.231(d)(1)
    ("EBT-5", {"1": 1, "2": 2, "3": 3, "4": 4, "5": 5}, "3"),
    # AMC4 ORO.FC.231(d)(1)
    ("CBTA-2", {"not-yet": 0, "competent": 1}, "competent"),
    # FAA-H-8083-9, chapter 3; that application is the standard is policy
    ("LVL-4", {"rote": 1, "understanding": 2, "application": 3, "correlation": 4},
     "application"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "levels", "standard"), DEFINED)
def test_a_public_scale_is_as_its_source_defines_it(code, levels, standard):
    scale = PUBLIC[code]
    assert {level.code: level.rank for level in scale.levels} == levels
    assert (scale.code, scale.standard) == (code, standard)
    below = [code for code in levels if not scale.meets(code)]
    assert below == list(levels)[: list(levels).index(standard)]


def test_there_are_no_other_public_scales():
    assert list(PUBLIC) == [code for code, _, _ in DEFINED]


def test_every_level_is_explained_and_every_scale_names_its_source():
    for scale in PUBLIC.values():
        assert scale.title
        assert scale.source
        assert all(level.words and level.meaning for level in scale.levels)


@pytest.mark.parametrize("code", PUBLIC)
def test_what_was_not_seen_has_no_rank_and_meets_nothing(code):
    scale = PUBLIC[code]  # GM2 ORO.FC.231(d)(1): not observed and left blank are two states
    for state in (NOT_OBSERVED, LEFT_BLANK):
        assert scale.accepts(state)
        assert scale.rank(state) is None
        assert scale.meets(state) is None


def test_incomplete_and_discontinued_are_not_unsatisfactory():
    scale = PUBLIC["ACS-SU"]  # FAA-S-ACS-6C, Appendix 1: weather ends the task half-way
    for state in ("incomplete", "discontinued"):
        assert scale.accepts(state)
        assert scale.meets(state) is None
    assert not PUBLIC["LCG-MAN"].accepts("incomplete")


def test_practice_is_below_perform_but_meets_a_lesson_that_asks_practice():
    scale = PUBLIC["LCG-MAN"]  # FAA-H-8083-9, chapter 6
    assert scale.meets("practice", "perform") is False
    assert scale.meets("practice", "practice") is True


def test_manage_decide_belongs_to_the_single_pilot_scale_only():
    assert PUBLIC["LCG-SRM"].accepts("manage-decide")  # FAA-H-8083-9, chapter 1
    assert not PUBLIC["LCG-MAN"].accepts("manage-decide")


@pytest.mark.parametrize(
    ("how_many", "how_often", "outcome", "level"),
    [
        ("many", "regularly", "safe", "3"),  # AMC4 ORO.FC.231(d)(1)
        ("some", "occasionally", "not unsafe", "2"),  # the same
        ("few", "rarely", "unsafe", "1"),  # the same
        ("most", "regularly", "effective", "4"),  # the same
        ("all", "always", "enhanced", "5"),  # the same
        ("most", "regularly", "unsafe", "1"),  # the lowest decides: this project's rule
    ],
)
def test_the_lowest_of_the_three_dimensions_decides(how_many, how_often, outcome, level):
    assert word_picture(how_many, how_often, outcome) == level


def test_a_word_of_no_dimension_is_refused_with_those_that_exist():
    with pytest.raises(ValueError, match="Use one of: rarely, occasionally, regularly, always"):
        word_picture("many", "often", "safe")


def test_the_words_of_one_level_give_that_level():
    for place, words in enumerate(zip(HOW_MANY, HOW_OFTEN, OUTCOME, strict=True), start=1):
        assert word_picture(*words) == str(place)


def test_people_read_words_for_levels_and_states():
    scale = PUBLIC["LCG-SRM"]
    said = [scale.words(code) for code in ("manage-decide", NOT_OBSERVED, None)]
    assert said == ["Manage-Decide", "Not observed", "Not graded"]
    assert scale.level("explain").rank == 1
    with pytest.raises(KeyError):
        scale.level("perform")
