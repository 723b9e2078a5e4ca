"""The cast of the demo school, as `seed_data/school.toml` tells it."""

import tomllib
from dataclasses import dataclass
from typing import Any

from gradebook.paths import bundled
from gradebook.records.permissions import Role


@dataclass(frozen=True, slots=True)
class Habit:
    """An error a student makes again and again, with its rate per opportunity."""

    task: str
    error: str
    rate: float


@dataclass(frozen=True, slots=True)
class Staff:
    """Somebody who works at the school. `severity` shifts the grades they give downward.

    `experience`: for so many days from now their instructor certificate holds (0: no such day).
    """

    name: str
    email: str
    roles: tuple[Role, ...]
    certificate: str
    severity: float
    experience: int = 0


@dataclass(frozen=True, slots=True)
class Student:
    """A simulated student; see the comment at the top of the file for what shapes them."""

    name: str
    email: str
    course: str
    instructor: str
    lessons: int
    ability: float
    learning: float
    gap: int
    habits: tuple[Habit, ...] = ()
    plateau: bool = False
    pause: int = 0
    graduated: bool = False
    left: int = 0
    erased: int = 0
    asked: int = 0
    careful: bool = False


@dataclass(frozen=True, slots=True)
class Scenario:
    """The school and its cast."""

    name: str
    zone: str
    staff: tuple[Staff, ...]
    students: tuple[Student, ...]


def read_scenario(name: str = "school") -> Scenario:
    """A scenario that ships with the program: the demo school, or the one `elsewhere`."""
    file = bundled("seed_data") / f"{name}.toml"
    told = tomllib.loads(file.read_text(encoding="utf-8"))
    return Scenario(
        name=told["name"],
        zone=told["zone"],
        staff=tuple(_staff(one) for one in told["staff"]),
        students=tuple(_student(one) for one in told["student"]),
    )


def _staff(told: dict[str, Any]) -> Staff:
    roles = tuple(Role(role) for role in told["roles"])
    return Staff(**{**told, "roles": roles})


def _student(told: dict[str, Any]) -> Student:
    habits = tuple(Habit(**habit) for habit in told.get("habits", ()))
    return Student(**{**told, "habits": habits})
