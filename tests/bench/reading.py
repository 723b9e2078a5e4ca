"""Rebuilding a school, and reading one more lesson of one student."""

from collections.abc import Iterator
from dataclasses import replace

import pandas as pd

from gradebook.analytics.needle.beliefs import Beliefs, beliefs_from
from gradebook.analytics.needle.log import Columns
from gradebook.analytics.needle.replay import advance, replay
from tests.bench.measuring import Figure, groupby
from tests.bench.schools import Sizes, columns_of, log_of, young_parameters

SPEEDS = 1, 3, 5
LESSON_GRADES = 20


def rebuilding(frame: pd.DataFrame, size: Sizes) -> Iterator[Figure]:
    """The whole school replayed with 1, 3 and 5 learning speeds; the layout beforehand."""
    base = groupby(frame, 3 * size.few)
    yield base.figure(
        "pandas groupby on words",
        lambda: frame.groupby(["student", "task"])["grade"].mean(),
        size.few,
    )
    columns = columns_of(frame)
    yield base.figure("lay out the log", lambda: log_of(columns), size.few)
    log, known = log_of(columns), young_parameters()
    for speeds in SPEEDS:
        several = replace(known, nodes=speeds)
        yield base.figure(
            f"rebuild, {speeds} speed{'s' * (speeds > 1)}",
            lambda several=several: replay(log, several),
            size.few,
        )


def updating(frame: pd.DataFrame, size: Sizes) -> Iterator[Figure]:
    """One sign-off: a lesson of 20 grades after everything else of one student."""
    before, lesson = with_a_lesson_left(frame)
    known = young_parameters()
    kept = believed(before)
    raw, columns = kept.as_bytes(), columns_of(lesson)
    log = log_of(columns)
    base = groupby(lesson, size.many)

    def whole() -> bytes:
        return _signed_off(columns, kept.tasks, raw)

    yield base.figure("update at a sign-off", whole, size.many)
    yield base.figure(
        "- beliefs from bytes and back",
        lambda: beliefs_from(kept.tasks, raw, known.nodes).as_bytes(),
        size.many,
    )
    yield base.figure("- lay out the lesson", lambda: log_of(columns), size.many)
    yield base.figure("- advance", lambda: advance(log, known, kept), size.many)
    yield groupby(before, size.many).figure(
        "one student's whole history again",
        lambda: replay(log_of(columns_of(before)), known),
        min(size.many, 10 * size.few),
    )


def _signed_off(columns: Columns, tasks: tuple[str, ...], raw: bytes) -> bytes:
    """From stored bytes and a new lesson to bytes to store."""
    known = young_parameters()
    done = advance(log_of(columns), known, beliefs_from(tasks, raw, known.nodes))
    return done.beliefs[columns.student[0]].as_bytes()


def with_a_lesson_left(frame: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The first student's lessons but the last; and the first 20 grades of that."""
    own = frame[frame["student"] == frame["student"].iloc[0]]
    last = own["lesson"] == own["lesson"].max()
    return own[~last], own[last].head(LESSON_GRADES)


def believed(frame: pd.DataFrame) -> Beliefs:
    """What is believed of the only student of a table."""
    log = log_of(columns_of(frame))
    return replay(log, young_parameters()).beliefs[log.students[0]]
