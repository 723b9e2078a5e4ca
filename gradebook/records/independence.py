"""Whether a stage check is independent of the training before it, and who may be excepted.

14 CFR 141.37(c), in our own words: a check instructor may not conduct a stage check or
end-of-course test of a student whose principal instructor they were, or whom they recommended
for it. The rule speaks of check instructors, and 141.85 lets a chief instructor check as well.
So everybody is refused at first; a chief instructor who is not also designated as check
instructor may check all the same for a typed reason, which stays on the record.
"""

from dataclasses import dataclass
from datetime import date

from gradebook import formats
from gradebook.records.permissions import Role
from syllabus.saying import joined, say

CITATION = "14 CFR 141.37(c)"
RULE = say(
    "{citation}: whoever was the student's principal instructor, or "
    "recommended the student, may not conduct the stage check.",
    citation=CITATION,
)
POSTS = frozenset({Role.CHECK_INSTRUCTOR, Role.CHIEF})
"""The posts that conduct stage checks."""
NEVER = say("For a designated check instructor there is no exception.")
WITH_REASON = say("A chief instructor may, with a reason that stays on the record.")


@dataclass(frozen=True, slots=True)
class Tenure:
    """Somebody is or was principal instructor: first day, and last unless it goes on."""

    person: str
    since: date
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """What independence depends on.

    All principal instructors of this enrolment, whoever recommended the student for this check,
    who is to conduct it with which posts, and the reason typed for an exception (or nothing).
    """

    principals: tuple[Tenure, ...]
    recommended_by: frozenset[str]
    checker: str
    name: str
    posts: frozenset[Role]
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether somebody may conduct the check. `ties` say why they are not independent."""

    ties: tuple[str, ...]
    excepted: bool
    hint: str

    @property
    def independent(self) -> bool:
        """Whether nothing ties the checker to the training."""
        return not self.ties

    @property
    def allowed(self) -> bool:
        """Whether they may check: independent, or a chief instructor with a reason."""
        return self.independent or self.excepted

    @property
    def words(self) -> str:
        """The rule, what breaks it, and whether a reason would help."""
        return joined(" ", (RULE, *self.ties, self.hint))


def judge(facts: Facts) -> Verdict:
    """Hold the facts against the rule. A tenure counts at any time, past or present."""
    held = [one for one in facts.principals if one.person == facts.checker]
    ties = [_tenure_words(facts.name, one) for one in held]
    if facts.checker in facts.recommended_by:
        ties.append(say("{name} recommended the student.", name=facts.name))
    excusable = Role.CHIEF in facts.posts and Role.CHECK_INSTRUCTOR not in facts.posts
    return Verdict(
        ties=tuple(ties),
        excepted=bool(ties) and excusable and bool(facts.reason.strip()),
        hint=WITH_REASON if excusable else NEVER,
    )


def _tenure_words(name: str, held: Tenure) -> str:
    since = formats.day(held.since)
    if held.until is None:
        return say("{name} is the principal instructor since {since}.", name=name, since=since)
    return say(
        "{name} was the principal instructor from {since} to {until}.",
        name=name,
        since=since,
        until=formats.day(held.until),
    )
