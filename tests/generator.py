"""A made-up school's old records as two CSV texts, and the sums they must come to.

Stand-alone: it knows the small course of `tests/small_course.py` by its own plain tables and
uses nothing of the program, so that what the program shows can be held against it.
"""

import csv
import io
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

LEVELS = ("describe", "explain", "practice", "perform")
LESSONS = {
    "s-01": ("dual", {"preflight": "practice", "run-up": "practice", "hover": "explain"}),
    "s-02": (
        "dual",
        {
            "preflight": "perform",
            "run-up": "perform",
            "hover": "practice",
            "shutdown": "practice",
        },
    ),
    "s-check": ("dual", {"preflight": "perform", "run-up": "perform"}),
    "s-03": ("solo", {"hover": "perform"}),
    "s-last": ("dual", {"hover": "perform"}),
}
CHECKS = ("s-check", "s-last")
ERRORS = {
    "preflight": ("PF-01", "PF-04"),
    "run-up": ("RU-03", "RU-04", "RU-05"),
    "hover": ("HV-01",),
    "shutdown": ("SD-01",),
}
CRITICAL = ("PF-04", "RU-04", "RU-05")
CHECKER = "eve@school.example"
TEACHERS = ("ben@school.example", "dov@school.example", CHECKER)
FIRST_DAY = date(2025, 3, 3)
STUDENT_COLUMNS = (
    "name",
    "email",
    "course",
    "enrolled_on",
    "instructor_email",
    "certificate",
)
GRADE_COLUMNS = (
    "student_email",
    "course",
    "lesson",
    "flown_on",
    "instructor_email",
    "task",
    "grade",
    "outcome",
    "aircraft",
    "registration",
    "dual",
    "solo",
    "ground",
    "day_landings",
    "errors",
    "remark",
)


@dataclass
class StudentSums:
    """What one student's rows come to. Times in minutes; `met` and `counted` by task."""

    name: str
    email: str
    lessons: int = 0
    dual: int = 0
    solo: int = 0
    grades: int = 0
    last: dict[str, str] = field(default_factory=dict)
    met: Counter[str] = field(default_factory=Counter)
    counted: Counter[str] = field(default_factory=Counter)
    errors: Counter[str] = field(default_factory=Counter)
    done: set[str] = field(default_factory=set)
    last_day: date = FIRST_DAY

    @property
    def next_lesson(self) -> str:
        """Code of the first lesson not completed; empty at the end of the course."""
        return next((code for code in LESSONS if code not in self.done), "")

    @property
    def is_critical(self) -> bool:
        """Whether a safety-critical error was ever marked."""
        return any(self.errors[code] for code in CRITICAL)


@dataclass(frozen=True)
class Made:
    """Both files, and the sums of each student in the order of the file."""

    students_csv: str
    grades_csv: str
    students: tuple[StudentSums, ...]

    @property
    def grades(self) -> int:
        """Grades in all: the rows of the second file."""
        return sum(one.grades for one in self.students)

    @property
    def lessons(self) -> int:
        """Lessons in all."""
        return sum(one.lessons for one in self.students)

    def marks(self) -> Counter[str]:
        """Marks of each error in all."""
        return sum((one.errors for one in self.students), Counter())

    def opportunities(self) -> Counter[str]:
        """Counted grades of each task in all."""
        return sum((one.counted for one in self.students), Counter())

    def makers(self, error: str) -> int:
        """How many students made an error."""
        return sum(bool(one.errors[error]) for one in self.students)


def make(students: int = 80, seed: int = 7) -> Made:
    """Files of so many students, the same for the same seed; from 80 on 2,400 grades or more.

    Every student flies each lesson three to five times, the last time to its target; every
    fourth stops before the first stage check.
    """
    rng = Random(seed)  # noqa: S311 - repeatable, not secret
    people: list[list[str]] = []
    rows: list[list[str]] = []
    sums = []
    for number in range(1, students + 1):
        one = StudentSums(f"Student No {number:03d}", f"student{number:03d}@school.example")
        enrolled = FIRST_DAY + timedelta(days=number % 50)
        teacher = TEACHERS[number % 2]
        people.append(
            [one.name, one.email, "small", enrolled.isoformat(), teacher, f"C-{number:04d}"]
        )
        flown = list(LESSONS)[:2] if number % 4 == 0 else list(LESSONS)
        rows += _student_rows(one, flown, enrolled, rng)
        sums.append(one)
    return Made(text(STUDENT_COLUMNS, people), text(GRADE_COLUMNS, rows), tuple(sums))


def text(header: tuple[str, ...], rows: list[list[str]], delimiter: str = ",") -> str:
    """CSV text of a header and rows."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows([header, *rows])
    return out.getvalue()


def _student_rows(
    one: StudentSums, flown: list[str], enrolled: date, rng: Random
) -> list[list[str]]:
    rows = []
    day = enrolled
    for lesson in flown:
        attempts = rng.randint(3, 5)
        for attempt in range(1, attempts + 1):
            day += timedelta(days=rng.randint(1, 5))
            rows += _lesson_rows(one, (lesson, day), attempt == attempts, rng)
        one.done.add(lesson)
    return rows


def _lesson_rows(
    one: StudentSums, what: tuple[str, date], is_last: bool, rng: Random
) -> list[list[str]]:
    """One lesson; times and outcome stand in its first row, or in all, as old files have it."""
    lesson, day = what
    kind, asked = LESSONS[lesson]
    minutes = 6 * rng.randint(8, 20)
    head = ["", "invented", f"KM-H{rng.randint(1, 2)}", *_times(kind, minutes, rng)]
    if not is_last:
        head[0] = "failed" if lesson in CHECKS else "incomplete"
    in_all = rng.random() < 0.5
    drawn = rng.choice(TEACHERS)
    teacher = CHECKER if lesson in CHECKS else drawn
    rows = []
    for place, (task, target) in enumerate(asked.items()):
        key = [one.email, "small", lesson, day.isoformat(), teacher]
        grade, errors, remark = _grade(one, (task, target), is_last, rng)
        cells = head if in_all or not place else [""] * len(head)
        rows.append([*key, task, grade, *cells, errors, remark])
    one.lessons += 1
    one.grades += len(rows)
    one.last_day = day
    if kind == "solo":
        one.solo += minutes
    else:
        one.dual += minutes
    return rows


def _times(kind: str, minutes: int, rng: Random) -> list[str]:
    """Cells for dual, solo, ground, landings; half of them 1.2, half 1:12."""
    decimal = rng.random() < 0.5
    typed = f"{minutes / 60:.1f}" if decimal else f"{minutes // 60}:{minutes % 60:02d}"
    return [
        typed if kind == "dual" else "",
        typed if kind == "solo" else "",
        "0:30",
        str(rng.randint(1, 9)),
    ]


def _grade(
    one: StudentSums, asked: tuple[str, str], is_last: bool, rng: Random
) -> tuple[str, str, str]:
    """Grade, errors and remark of one task, added to the sums."""
    task, target = asked
    wanted = LEVELS.index(target)
    if not is_last and rng.random() < 0.1:
        return "not-observed", "", ""
    rank = rng.randint(wanted, 3) if is_last else rng.randint(0, 3)
    grade, met = LEVELS[rank], rank >= wanted
    errors = [code for code in ERRORS[task] if rng.random() < (0.05 if met else 0.5)]
    one.counted[task] += 1
    one.met[task] += met
    one.last[task] = grade
    one.errors.update(errors)
    remark = "" if met or errors else 'Said "later", then late; again.\nNext time sooner.'
    return grade, " ".join(errors), remark
