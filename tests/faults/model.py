"""What a record's life should be, told a second time: who may do what, and what comes of it.

Nothing here asks the program. Where a rule leaves room, the answer is None: both are right.
"""

from dataclasses import dataclass, field
from datetime import date

TEACH = {"ana": ("ben", "ivo"), "hal": ("dov", "ivo")}
CHIEF, AUDITOR = "cleo", "gus"
STAFF = ("ben", "dov", "eve", "ivo", CHIEF)
CHECKERS = ("eve", "ivo", CHIEF)
CHECK = "s-check"
LESSONS = ("s-01", "s-02", "s-03", CHECK)
ENROLLED = date(2026, 3, 31)
EFFECTIVE = ("signed", "acknowledged")


@dataclass
class Record:
    """One record as it should stand."""

    id: str
    student: str
    lesson: str
    author: str
    state: str = "draft"
    version: int = 1
    flown_on: date | None = None
    supersedes: "Record | None" = None

    @property
    def counts(self) -> bool:
        """Whether it is in force."""
        return self.state in EFFECTIVE


@dataclass
class Check:
    """One stage check: recommended by, to be conducted by, used by a signed record."""

    id: str
    student: str
    by: str
    checker: str = ""
    used: bool = False


@dataclass
class Model:
    """The school as it should stand."""

    records: dict[str, Record] = field(default_factory=dict)
    checks: dict[str, Check] = field(default_factory=dict)
    ended: set[str] = field(default_factory=set)

    def may(self, act: str, who: str, record: Record, today: date) -> bool:
        """Whether somebody may do one of the acts on a record, at its newest version."""
        if act == "sign":
            return self.may_sign(who, record, stale=False, today=today)
        if act == "save":
            return self.may_save(who, record, stale=False)
        allowed: bool = getattr(self, f"may_{act}")(who, record)
        return allowed

    def may_open(self, who: str, student: str, lesson: str) -> bool:
        """Whoever teaches, and the chief; a stage check by whom it is assigned to."""
        if self.draft_of(who, student, lesson) and self.sees_drafts(who, student):
            return True
        if student in self.ended:
            return False
        if lesson == CHECK:
            return self.assigned(who, student) is not None
        return who == CHIEF or who in TEACH[student]

    def draft_of(self, who: str, student: str, lesson: str) -> Record | None:
        """The draft this author has open already."""
        wanted = (student, lesson, who, "draft", None)
        for one in self.records.values():
            if (one.student, one.lesson, one.author, one.state, one.supersedes) == wanted:
                return one
        return None

    def assigned(self, who: str, student: str) -> Check | None:
        """The stage check, not yet flown, that is assigned to somebody."""
        for one in self.checks.values():
            if (one.student, one.checker, one.used) == (student, who, False):
                return one
        return None

    def may_save(self, who: str, record: Record, *, stale: bool) -> bool:
        """The author, while it is a draft, from its newest version."""
        return record.state == "draft" and record.author == who and not stale

    def may_sign(self, who: str, record: Record, *, stale: bool, today: date) -> bool:
        """As saving, when finished, of a day that can be, in place of what still counts."""
        day = record.flown_on
        if not self.may_save(who, record, stale=stale) or day is None:
            return False
        if record.supersedes is not None:
            ready = record.supersedes.counts
        else:
            ready = record.lesson != CHECK or self.assigned(who, record.student) is not None
        return ready and ENROLLED <= day <= today

    def may_answer(self, who: str, record: Record) -> bool:
        """The student whose record it is, once, after it is signed."""
        return record.state == "signed" and record.student == who

    def may_void(self, who: str, record: Record) -> bool:
        """The author or the chief, while it counts."""
        return record.counts and who in (record.author, CHIEF)

    def may_amend(self, who: str, record: Record) -> bool:
        """As declaring void, unless an amendment is open."""
        drafts = (one for one in self.records.values() if one.state == "draft")
        is_open = any(one.supersedes is record for one in drafts)
        return self.may_void(who, record) and not is_open

    def may_discard(self, who: str, record: Record) -> bool:
        """The author or the chief, while it is a draft."""
        return record.state == "draft" and who in (record.author, CHIEF)

    def may_recommend(self, who: str, student: str) -> bool:
        """Whoever teaches, and the chief, when no recommendation is open."""
        teaches = who == CHIEF or who in TEACH[student]
        waiting = any(one.student == student and not one.used for one in self.checks.values())
        return teaches and not waiting

    def may_approve(self, who: str, check: Check, checker: str) -> bool | None:
        """The chief; the checker holds the post, and never recommended the student."""
        if who != CHIEF or check.used or checker not in CHECKERS:
            return False
        if checker == check.by and checker != CHIEF:
            return False
        conducted = any(
            one.lesson == CHECK and one.author == checker for one in self.records.values()
        )
        return True if checker == "eve" and not conducted else None

    def sees_drafts(self, who: str, student: str) -> bool:
        """Staff who have to do with the student."""
        checks = any(
            one.student == student and one.checker == who for one in self.checks.values()
        )
        teaches = who in TEACH[student] or who == CHIEF
        return teaches or (checks and who in CHECKERS)

    def sees(self, who: str, record: Record) -> bool:
        """Staff who have to do with the student; once signed, the student and auditors too."""
        if self.sees_drafts(who, record.student):
            return True
        return record.state != "draft" and who in (record.student, AUDITOR)
