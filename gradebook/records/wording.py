"""Codes in words people read, also where the course at hand no longer has the code. Pure."""

from gradebook.formats import count
from gradebook.records.values import LessonFact
from syllabus.course import Course
from syllabus.saying import say


def count_words(number: int, noun: str) -> str:
    """A number with its noun: 1 lesson, 2 lessons."""
    return count(number, noun)


def lesson_title(course: Course, code: str) -> str:
    """The title of a lesson; its code when the course has no such lesson."""
    lesson = course.lesson_by_code.get(code)
    return lesson.title if lesson else code


def lesson_words(course: Course, fact: LessonFact) -> str:
    """What people call a lesson record: its title, and the attempt when not the first."""
    title = lesson_title(course, fact.lesson)
    return (
        title
        if fact.attempt == 1
        else say("{title}, attempt {attempt}", title=title, attempt=fact.attempt)
    )


def level_words(course: Course, task: str, level: str) -> str:
    """A level of a task's scale in words; its code when the scale has no such level."""
    try:
        return course.task_by_code[task].scale.words(level)
    except KeyError:
        return level


def error_words(course: Course, task: str, error: str) -> str:
    """An error of a task in words; its code when the course has no such error."""
    try:
        return course.task_by_code[task].error(error).words
    except KeyError:
        return error


def task_title(course: Course, task: str) -> str:
    """The title of a task; its code when the course has no such task."""
    known = course.task_by_code.get(task)
    return known.title if known else task
