"""Whether the parts of a course fit together: flow, stages, lessons, targets, requirements."""

from collections import Counter

from syllabus.checking_aircraft import check_aircraft
from syllabus.course import Lesson, LessonKind, Phase
from syllabus.draft import Draft
from syllabus.entries import Entry, unique, unknown
from syllabus.scales import GradeScale


def check(draft: Draft) -> None:
    """Note every fault between the parts of the draft, at the place that names it."""
    _check_scales(draft)
    _check_flow(draft)
    _check_knowledge_first(draft)
    _check_stages(draft)
    for stage in draft.stages:
        _check_requirements(draft, stage.value.requirements, stage.at)
        for lesson, entry in zip(stage.value.lessons, stage.at.entries("lesson"), strict=True):
            _check_lesson(draft, lesson, entry)
    unique([(kind.value.code, kind.at) for kind in draft.aircraft], "aircraft type")
    for one in draft.requirement_sets:
        _check_test_type(draft, one.value.test_type, one.at)
    for kind in draft.aircraft:
        check_aircraft(draft, kind.value, kind.at)


def _check_scales(draft: Draft) -> None:
    for entry in (draft.head.at, *(task.at for task in draft.tasks)):
        code = entry.spare_text("scale")
        if code and code not in draft.scales and "scales" not in draft.broken:
            entry.fault(unknown(code, "grade scale", draft.scales), "scale")


def _check_flow(draft: Draft) -> None:
    """The flow names every task once."""
    if draft.broken & {"tasks", "course"}:
        return
    tasks, seen = draft.task_by_code, Counter[str]()
    for place, code in enumerate(draft.head.flow):
        seen[code] += 1
        if code not in tasks:
            draft.head.at.fault(unknown(code, "task", tasks), "flow", place)
        if seen[code] == 2:
            again = f"The flow names `{code}` twice: take one out."
            draft.head.at.fault(again, "flow", place)
    for task in draft.tasks:
        code = task.value.code
        if code and not seen[code]:
            task.at.fault(
                f"The flow in course.toml does not name `{code}`: add it there.", "code"
            )


def _check_knowledge_first(draft: Draft) -> None:
    tasks, begun = draft.task_by_code, ""
    for place, code in enumerate(draft.head.flow):
        knowledge = code in tasks and tasks[code].phase is Phase.KNOWLEDGE
        if knowledge and begun:
            late = f"Knowledge tasks come first: move `{code}` before `{begun}`."
            draft.head.at.fault(late, "flow", place)
        elif code in tasks and not knowledge:
            begun = begun or code


def _check_stages(draft: Draft) -> None:
    """Codes are used once, and each stage ends with its only stage check."""
    unique([(stage.value.code, stage.at) for stage in draft.stages], "stage")
    lessons: list[tuple[str, Entry]] = []
    for stage in draft.stages:
        listed = list(zip(stage.value.lessons, stage.at.entries("lesson"), strict=True))
        lessons.extend((lesson.code, entry) for lesson, entry in listed)
        for lesson, entry in listed[:-1]:
            if lesson.kind is LessonKind.STAGE_CHECK:
                entry.fault("Only the last lesson of a stage may be its stage-check.", "kind")
        for lesson, entry in listed[-1:]:
            if lesson.kind is not LessonKind.STAGE_CHECK:
                entry.fault("The last lesson of a stage must be of kind stage-check.", "kind")
    unique(lessons, "lesson")


def _check_requirements(draft: Draft, code: str | None, entry: Entry) -> None:
    known = [one.value.code for one in draft.requirement_sets]
    if code and code not in known and "requirements" not in draft.broken:
        entry.fault(unknown(code, "requirement set", known), "requirements")


def _check_test_type(draft: Draft, code: str, entry: Entry) -> None:
    known = [kind.value.code for kind in draft.aircraft]
    if code and code not in known and "aircraft" not in draft.broken:
        entry.fault(unknown(code, "aircraft type", known), "test_type")


def _check_lesson(draft: Draft, lesson: Lesson, entry: Entry) -> None:
    tasks, seen = draft.task_by_code, set[str]()
    for asked, at in zip(lesson.tasks, entry.entries("tasks"), strict=True):
        if asked.task in seen:
            at.fault(f"`{asked.task}` is already in this lesson: take one out.", "task")
        seen.add(asked.task)
        if asked.task in tasks:
            _check_target(tasks[asked.task].scale, asked.target, at)
        elif asked.task and "tasks" not in draft.broken:
            at.fault(unknown(asked.task, "task", tasks), "task")


def _check_target(scale: GradeScale, target: str, entry: Entry) -> None:
    levels = [level.code for level in scale.levels]
    if levels and target not in levels:
        known = ", ".join(levels)
        wrong = f"`{target}` is not a level of {scale.code}: use one of {known}."
        entry.fault(wrong, "target")
