"""Why a task stands where it stands among those to work on."""

from datetime import date

import pytest

from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.suggestion import GAIN, WATCHED, Pick
from gradebook.records.needle import Needle
from gradebook.records.worklist import worklist
from tests.builders import a_course, a_task

OPEN = "It has an open watch item, so it comes first."
RISES = "One more attempt would raise this chance from 71 % to 79 %."


@pytest.mark.parametrize(
    ("why", "before", "after", "words"),
    [
        (WATCHED, 0.71, 0.79, f"{OPEN} {RISES}"),
        (WATCHED, 0.995, 0.997, OPEN),
        (GAIN, 0.71, 0.79, RISES),
        (GAIN, 0.995, 0.997, None),
    ],
)
def test_a_chance_is_said_to_rise_only_where_its_words_change(
    why: str, before: float, after: float, words: str | None
) -> None:
    course = a_course(tasks=(a_task("run-up"),))
    needle = Needle(course, default_parameters([]), None, (), date(2026, 3, 1))
    pick = Pick("run-up", why, 0.1, before, after, 5.0)
    (item,) = worklist(needle, [pick], ())
    assert item.why == ((words,) if words else ())
