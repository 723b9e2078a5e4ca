"""Grade scales: ordered levels, one of which first meets the standard, and states not counted.

The public scales are restated in our own words from the sources named on each; a school adds
its own in `scales.toml`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from syllabus.saying import say

NOT_OBSERVED = "not-observed"
LEFT_BLANK = "left-blank"
INCOMPLETE = "incomplete"
DISCONTINUED = "discontinued"

NOT_COUNTED_WORDS = {
    NOT_OBSERVED: say("Not observed"),
    LEFT_BLANK: say("Left blank"),
    INCOMPLETE: say("Incomplete"),
    DISCONTINUED: say("Discontinued"),
}
"""States without a rank. *Not observed*: no chance to see it. *Left blank*: not applicable."""


@dataclass(frozen=True, slots=True)
class Level:
    """One level of a scale; a higher `rank` is better, the lowest is 0 or 1."""

    code: str
    words: str
    rank: int
    meaning: str


@dataclass(frozen=True)
class GradeScale:
    """An ordered set of levels; `standard` is the code of the first that meets the standard."""

    code: str
    title: str
    levels: tuple[Level, ...]
    standard: str
    source: str
    not_counted: tuple[str, ...] = (NOT_OBSERVED, LEFT_BLANK)

    @cached_property
    def by_code(self) -> Mapping[str, Level]:
        """The levels by their codes."""
        return {level.code: level for level in self.levels}

    @cached_property
    def places(self) -> Mapping[int, int]:
        """The place of every rank among the levels, 1 the lowest."""
        ranks = sorted(level.rank for level in self.levels)
        return {rank: place for place, rank in enumerate(ranks, start=1)}

    def level(self, code: str) -> Level:
        """The level with this code; KeyError when the scale has none such."""
        return self.by_code[code]

    def rank(self, code: str | None) -> int | None:
        """Rank of a level; None for a state that is not counted or unknown."""
        level = self.by_code.get(code) if code else None
        return level.rank if level else None

    def accepts(self, code: str) -> bool:
        """Whether a grade may carry this code: a level or a not-counted state of this scale."""
        return self.rank(code) is not None or code in self.not_counted

    def meets(self, code: str | None, target: str | None = None) -> bool | None:
        """Whether a grade reaches the target level (default: the standard).

        None when the grade is a state that is not counted.
        """
        rank, wanted = self.rank(code), self.rank(target or self.standard)
        if rank is None or wanted is None:
            return None
        return rank >= wanted

    def words(self, code: str | None) -> str:
        """The words people read for a level or a not-counted state; 'Not graded' for None."""
        if code is None:
            return say("Not graded")
        if code in NOT_COUNTED_WORDS and self.rank(code) is None:
            return NOT_COUNTED_WORDS[code]
        return self.level(code).words


_HANDBOOK = "FAA-H-8083-9"
_EVIDENCE_BASED = "AMC4 ORO.FC.231(d)(1)"


def _levels(*levels: tuple[str, str, str], lowest: int = 1) -> tuple[Level, ...]:
    return tuple(
        Level(code, say(words), rank, say(meaning))
        for rank, (code, words, meaning) in enumerate(levels, start=lowest)
    )


_MANOEUVRES = GradeScale(
    "LCG-MAN",
    say("Student-centred grading, manoeuvres"),
    _levels(
        (
            "describe",
            "Describe",
            "Can say what it looks like and names its parts; cannot fly it without help",
        ),
        (
            "explain",
            "Explain",
            "Also knows why it is done so; still cannot fly it without help",
        ),
        (
            "practice",
            "Practice",
            "Plans and flies it; puts errors right once the instructor points them out",
        ),
        (
            "perform",
            "Perform",
            "Flies it unaided, finds and corrects errors at once; the "
            "outcome is never in doubt",
        ),
    ),
    "perform",
    f"{_HANDBOOK}, chapter 6",
)
_SINGLE_PILOT = GradeScale(
    "LCG-SRM",
    say("Student-centred grading, single-pilot resource management"),
    _levels(
        ("explain", "Explain", "Names the risks of the flight, but only when prompted"),
        (
            "practice",
            "Practice",
            "Takes part in deciding and applies it in flight; coaching settles small errors",
        ),
        (
            "manage-decide",
            "Manage-Decide",
            "Gathers what matters, lists the options, weighs "
            "the risk and decides well; nobody has to step in",
        ),
    ),
    "manage-decide",
    f"{_HANDBOOK}, chapter 1",
)
_SATISFACTORY = GradeScale(
    "ACS-SU",
    say("Satisfactory or unsatisfactory"),
    _levels(
        ("unsatisfactory", "Unsatisfactory", "Something of the task was below standard"),
        ("satisfactory", "Satisfactory", "Everything that was sampled was at standard"),
        lowest=0,
    ),
    "satisfactory",
    "FAA-S-ACS-6C",
    (NOT_OBSERVED, LEFT_BLANK, INCOMPLETE, DISCONTINUED),
)
_THREE = GradeScale(
    "TRAD-3",
    say("Three levels"),
    _levels(
        ("needs-more-training", "Needs more training", "Below the standard of the lesson"),
        ("meets", "Meets the standard", "At the standard of the lesson"),
        ("exceeds", "Exceeds the standard", "Clearly better than the standard of the lesson"),
    ),
    "meets",
    f"{_HANDBOOK}, chapter 9",
)
_FOUR = GradeScale(
    "TRAD-4",
    say("Four levels"),
    _levels(
        ("poor", "Poor", "Far below standard, or safe only because the instructor stepped in"),
        ("fair", "Fair", "Below standard; recognises the errors and is improving"),
        ("good", "Good", "At standard; small errors corrected without a prompt"),
        (
            "excellent",
            "Excellent",
            "Well inside the standard, smooth and ahead of the aircraft",
        ),
    ),
    "good",
    f"{_HANDBOOK}, chapter 9; word pictures and standard: school",
)
_EVIDENCE = GradeScale(
    "EBT-5",
    say("Evidence-based training, five levels"),
    _levels(
        ("1", "1", "Few of the behaviours, rarely; the situation became unsafe"),
        ("2", "2", "Some of the behaviours, occasionally; not unsafe, just acceptable"),
        ("3", "3", "Many of the behaviours, regularly; safe and adequate"),
        ("4", "4", "Most of the behaviours, regularly; safe and effective"),
        ("5", "5", "All or nearly all of the behaviours, always; safer for it, an example"),
    ),
    "3",
    _EVIDENCE_BASED,
)
_COMPETENT = GradeScale(
    "CBTA-2",
    say("Competent or not yet"),
    _levels(
        ("not-yet", "Not yet competent", "Does not yet show what the competency asks"),
        ("competent", "Competent", "Shows what the competency asks"),
        lowest=0,
    ),
    "competent",
    _EVIDENCE_BASED,
)
_KNOWLEDGE = GradeScale(
    "LVL-4",
    say("Levels of knowledge"),
    _levels(
        ("rote", "Rote", "Repeats what was taught"),
        ("understanding", "Understanding", "Links the ideas and says what they mean"),
        ("application", "Application", "Uses it in a case not met before"),
        ("correlation", "Correlation", "Links it to other things learnt"),
    ),
    "application",
    f"{_HANDBOOK}, chapter 3; standard: school",
)

PUBLIC: Mapping[str, GradeScale] = {
    scale.code: scale
    for scale in (
        _MANOEUVRES, _SINGLE_PILOT, _SATISFACTORY, _THREE, _FOUR, _EVIDENCE, _COMPETENT,
        _KNOWLEDGE,
    )
}  # fmt: skip
"""The public scales by code."""

HOW_MANY = ("few", "some", "many", "most", "all")
HOW_OFTEN = ("rarely", "occasionally", "regularly", "regularly", "always")
OUTCOME = ("unsafe", "not unsafe", "safe", "effective", "enhanced")
"""Words for the three dimensions of `EBT-5`, place 0 belonging to level 1."""


def word_picture(how_many: str, how_often: str, outcome: str) -> str:
    """The `EBT-5` level of a word picture: that of the lowest of its three dimensions.

    `how_many` of the behaviours, `how_often`, and how safe the `outcome` was, in the words of
    `HOW_MANY`, `HOW_OFTEN` and `OUTCOME`; a word of two levels counts as the higher.
    That the lowest decides is this project's own rule. ValueError for other words.
    """
    ranks = (
        _highest(HOW_MANY, how_many),
        _highest(HOW_OFTEN, how_often),
        _highest(OUTCOME, outcome),
    )
    return str(min(ranks))


def _highest(words: Sequence[str], word: str) -> int:
    if word not in words:
        raise ValueError(f"Use one of: {', '.join(dict.fromkeys(words))}.")
    return max(rank for rank, one in enumerate(words, start=1) if one == word)
