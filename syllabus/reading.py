"""Reading a course from its files: everything that is wrong is found in one go."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

from syllabus.checking import check
from syllabus.course import Course
from syllabus.draft import Draft, Head
from syllabus.entries import Entry, Placed, SourceFile
from syllabus.faults import CourseError, Fault
from syllabus.locate import Lines
from syllabus.reading_aircraft import CATEGORIES, read_aircraft
from syllabus.reading_stages import read_requirement_sets, read_stage
from syllabus.reading_tasks import read_scales, read_tasks
from syllabus.revision import content_hash

__all__ = ["CourseError", "Fault", "load_course", "read_course", "read_folder"]

_SINGLE = {
    "course.toml": "course",
    "scales.toml": "scales",
    "requirements.toml": "requirements",
}
_FOLDERS = ("tasks", "stages", "aircraft")
_LINE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


def read_folder(path: Path) -> dict[str, str]:
    """Texts of all `*.toml` files below a folder, by name relative to it with `/`.

    Hidden files and folders are passed over. Bytes that are not UTF-8 stay as lone surrogates,
    for `read_course` to tell. OSError for a file that cannot be opened.
    """
    found = {}
    for file in sorted(path.rglob("*.toml")):
        name = file.relative_to(path)
        if file.is_file() and not any(part.startswith(".") for part in name.parts):
            text = file.read_bytes().decode("utf-8", "surrogateescape")
            found[name.as_posix()] = text
    return found


def load_course(files: Mapping[str, str]) -> Course:
    """The course in these files; CourseError with every fault when there is any."""
    course, faults = read_course(files)
    if course is None:
        raise CourseError(faults)
    return course


def read_course(files: Mapping[str, str]) -> tuple[Course | None, tuple[Fault, ...]]:
    """The course in these files and no faults, or None and every fault, by file and line."""
    faults: list[Fault] = []
    parsed = {name: _parse(name, text, faults) for name, text in sorted(files.items())}
    broken = {_kind(name) for name, entry in parsed.items() if entry is None}
    whole = {name: entry for name, entry in parsed.items() if entry is not None}
    if "course.toml" not in files:
        faults.append(Fault("course.toml", 1, "This file is missing: every course needs it."))
        broken.add("course")
    draft = _draft(whole, frozenset(broken))
    check(draft)
    faults.extend(fault for entry in whole.values() for fault in entry.source.faults)
    if faults:
        return None, tuple(sorted(set(faults)))
    return draft.course(content_hash(files)), ()


def _kind(name: str) -> str:
    """What a file defines, such as `tasks`; empty for a file the format does not know."""
    folder, _, below = name.partition("/")
    return folder if below and folder in _FOLDERS else _SINGLE.get(name, "")


def _parse(name: str, text: str, faults: list[Fault]) -> Entry | None:
    """The file as a table, or None once the fault is noted."""
    if not _kind(name):
        words = "A course has no file of this name: see which files the format knows."
        faults.append(Fault(name, 1, words))
    text = text.removeprefix("\ufeff")
    bad = re.search("[\ud800-\udfff]", text)
    if bad:
        line = text.count("\n", 0, bad.start()) + 1
        faults.append(Fault(name, line, "This line is not UTF-8: save the file as UTF-8."))
        return None
    try:
        return Entry(SourceFile(name, Lines(text)), (), tomllib.loads(text))
    except RecursionError:
        faults.append(Fault(name, 1, "The brackets in this file are nested too deeply."))
    except ValueError as error:
        faults.append(_syntax(name, text, str(error)))
    return None


def _syntax(name: str, text: str, message: str) -> Fault:
    """The fault for a text that is not TOML; the reader's message ends with the place."""
    found = _LINE.search(message)
    line = int(found[1]) if found and found[1] else text.count("\n") + 1
    what = message[: found.start()] if found else message
    if what.startswith(("Cannot overwrite", "Cannot declare")):
        return Fault(name, line, "This name is given twice: take one out.")
    return Fault(name, line, f"This is not valid TOML. {what}.")


def _draft(whole: Mapping[str, Entry], broken: frozenset[str]) -> Draft:
    nothing = Entry(SourceFile("course.toml", Lines("")), (), {})
    head = _head(whole.get("course.toml", nothing))
    scales = read_scales(list(_tables(whole, "scales", "scale")))
    tasks = read_tasks(list(_tables(whole, "tasks", "task")), scales, head.scale)
    known = {task.value.code: task.value for task in reversed(tasks)}
    stages = tuple(
        Placed(read_stage(entry, known), entry) for entry in _stage_files(head, whole, broken)
    )
    return Draft(
        head=head,
        scales=scales,
        tasks=tasks,
        stages=stages,
        aircraft=tuple(
            Placed(read_aircraft(entry), entry)
            for name, entry in whole.items()
            if _kind(name) == "aircraft"
        ),
        requirement_sets=read_requirement_sets(list(_tables(whole, "requirements", "set"))),
        broken=broken,
    )


def _tables(whole: Mapping[str, Entry], kind: str, key: str) -> Iterator[Entry]:
    """The tables `[[key]]` of all files of a kind, which hold nothing else."""
    for name, entry in whole.items():
        if _kind(name) == kind:
            entry.only(key)
            yield from entry.entries(key)


def _head(entry: Entry) -> Head:
    entry.only(
        "code", "title", "category", "scale", "summary", "prerequisites", "consecutive",
        "flow", "stages",
    )  # fmt: skip
    return Head(
        at=entry,
        code=entry.code(),
        title=entry.text("title"),
        category=entry.choice("category", CATEGORIES),
        summary=entry.text("summary"),
        prerequisites=entry.texts("prerequisites"),
        consecutive=entry.count("consecutive", at_least=1),
        scale=entry.text("scale"),
        flow=entry.texts("flow", needed=True),
        stages=entry.texts("stages", needed=True),
    )


def _stage_files(
    head: Head, whole: Mapping[str, Entry], broken: frozenset[str]
) -> Iterator[Entry]:
    """The stage files that `course.toml` lists, in its order, each once; then any others."""
    seen: set[str] = set()
    for place, name in enumerate(head.stages):
        if name in seen:
            head.at.fault(f"`{name}` is listed twice: take one out.", "stages", place)
        elif name in whole and _kind(name) == "stages":
            yield whole[name]
        elif "stages" not in broken:
            head.at.fault(f"There is no file `{name}` below stages/.", "stages", place)
        seen.add(name)
    for name, entry in whole.items():
        if _kind(name) == "stages" and name not in seen:
            if "course" not in broken:
                entry.fault("`stages` in course.toml does not list this file: add it there.")
            yield entry
