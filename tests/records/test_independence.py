"""Independence of stage checks: the rule alone, and over thousands of invented histories.

Source of the rule: 14 CFR 141.37(c) (principal instructor; whoever recommended). The second
opinion in the histories is written down as they happen and shares no code with the rule.
"""

import random
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import pytest

from gradebook.records.independence import CITATION, Facts, Tenure, judge
from gradebook.records.permissions import Role

MAY, JUNE = date(2026, 5, 1), date(2026, 6, 1)
CHECK, CHIEF = Role.CHECK_INSTRUCTOR, Role.CHIEF


def facts(*posts: Role, reason: str = "", **changes: object) -> Facts:
    """Eve checks; nothing ties her to the student unless changed."""
    known = Facts((Tenure("ben", MAY),), frozenset({"ben"}), "eve", "Eve", frozenset(posts))
    return replace(known, reason=reason, **changes)  # type: ignore[arg-type]


def test_somebody_with_no_tie_may_check() -> None:
    verdict = judge(facts(CHECK))
    assert (verdict.independent, verdict.allowed) == (True, True)


@pytest.mark.parametrize("until", [None, JUNE])
def test_a_principal_instructor_may_not_check_now_or_ever_after(until: date | None) -> None:
    verdict = judge(facts(CHECK, principals=(Tenure("eve", MAY, until),)))
    assert not verdict.allowed
    assert CITATION in verdict.words
    said = "was the principal instructor from 1 May 2026 to 1 Jun 2026" if until else "since"
    assert said in verdict.words


def test_a_reason_that_nobody_gave_excuses_nobody() -> None:
    known = Facts((), frozenset({"eve"}), "eve", "Eve", frozenset({CHIEF}))
    assert not judge(known).allowed


@pytest.mark.parametrize(
    ("posts", "would_help"), [((CHIEF,), True), ((CHIEF, CHECK), False), ((CHECK,), False)]
)
def test_the_words_say_whether_a_reason_would_help(
    posts: tuple[Role, ...], *, would_help: bool
) -> None:
    words = judge(facts(*posts, recommended_by=frozenset({"eve"}))).words
    assert ("with a reason that stays on the record" in words) is would_help
    assert ("there is no exception" in words) is not would_help


def test_whoever_recommended_may_not_check() -> None:
    verdict = judge(facts(CHECK, recommended_by=frozenset({"eve"})))
    assert not verdict.allowed
    assert "Eve recommended the student." in verdict.words


@pytest.mark.parametrize(
    ("posts", "reason", "allowed"),
    [
        ((CHIEF,), "", False),
        ((CHIEF,), "  \n", False),
        ((CHIEF,), "No other examiner on the coast.", True),
        ((CHECK,), "No other examiner on the coast.", False),
        ((CHIEF, CHECK), "No other examiner on the coast.", False),
        ((Role.INSTRUCTOR,), "No other examiner on the coast.", False),
        ((Role.ADMINISTRATOR,), "No other examiner on the coast.", False),
    ],
)
def test_only_a_chief_without_the_designation_is_excepted_and_only_for_a_reason(
    posts: tuple[Role, ...], reason: str, allowed: bool
) -> None:
    verdict = judge(facts(*posts, reason=reason, recommended_by=frozenset({"eve"})))
    assert verdict.allowed is allowed
    assert not verdict.independent


def test_a_reason_makes_nobody_less_independent() -> None:
    verdict = judge(facts(CHIEF, reason="Early check."))
    assert (verdict.independent, verdict.excepted) == (True, False)


STAFF = ("ben", "cleo", "dov", "eve")
POSTS = {"ben": {Role.INSTRUCTOR}, "cleo": {CHIEF}, "dov": {Role.INSTRUCTOR}, "eve": {CHECK}}


@dataclass
class History:
    """One student's training as it goes, and who has become tied to it on the way."""

    random: random.Random
    day: date = MAY
    tenures: list[Tenure] = field(default_factory=list)
    recommended: set[str] = field(default_factory=set)
    posts: dict[str, set[Role]] = field(
        default_factory=lambda: {name: set(held) for name, held in POSTS.items()}
    )
    approved: tuple[str, str] | None = None
    tied: set[str] = field(default_factory=set)  # the second opinion
    conducted: list[tuple[str, bool, bool]] = field(default_factory=list)
    forgets: bool = False

    def step(self) -> None:
        """Let one thing happen."""
        self.day += timedelta(days=self.random.randint(0, 5))
        who = self.random.choice(STAFF)
        kinds = (self.appoint, self.leave, self.recommend, self.change_post)
        self.random.choice((*kinds, self.approve, self.approve, self.sign, self.enter))(who)

    def appoint(self, who: str) -> None:
        self.leave(who)
        self.tenures.append(Tenure(who, self.day))
        self.tied.add(who)

    def leave(self, _who: str) -> None:
        ended = [one for one in self.tenures if one.until is None]
        kept = [one for one in self.tenures if one.until is not None]
        past = [] if self.forgets else [replace(one, until=self.day) for one in ended]
        self.tenures = kept + past

    def recommend(self, who: str) -> None:
        self.recommended.add(who)
        self.tied.add(who)

    def change_post(self, who: str) -> None:
        self.posts[who] ^= {self.random.choice((CHECK, CHIEF))}

    def verdict(self, who: str, reason: str) -> tuple[bool, bool]:
        posts, names = frozenset(self.posts[who]), frozenset(self.recommended)
        found = judge(Facts(tuple(self.tenures), names, who, who, posts, reason))
        return found.allowed, not found.independent

    def approve(self, who: str) -> None:
        reason = self.random.choice(("", "Nobody else is here."))
        allowed, flagged = self.verdict(who, reason)
        if allowed:
            self.approved = (who, reason if flagged else "")

    def sign(self, _who: str) -> None:
        if self.approved is None:
            return
        who, reason = self.approved
        self.check(who, reason)

    def enter(self, who: str) -> None:
        self.check(who, self.random.choice(("", "Nobody else was here.")))

    def check(self, who: str, reason: str) -> None:
        allowed, flagged = self.verdict(who, reason)
        if allowed:
            excusable = self.posts[who] & {CHIEF, CHECK} == {CHIEF} and bool(reason)
            self.conducted.append((who, flagged, who not in self.tied or excusable))
            assert flagged == (who in self.tied) or self.forgets


def bypasses(seed: int, *, forgets: bool = False) -> tuple[int, int]:
    """Checks conducted in one history, and those among them that the rule forbids."""
    history = History(random.Random(seed), forgets=forgets)  # noqa: S311 - repeatable, not secret
    for _ in range(20):
        history.step()
    return len(history.conducted), sum(not right for *_, right in history.conducted)


def test_no_history_of_ten_thousand_lets_a_check_past_the_rule() -> None:
    found = [bypasses(seed) for seed in range(10_000)]
    assert sum(conducted for conducted, _ in found) > 10_000
    assert sum(wrong for _, wrong in found) == 0


def test_histories_would_show_a_school_that_forgets_former_principals() -> None:
    assert sum(bypasses(seed, forgets=True)[1] for seed in range(500)) > 10
