"""The questions a page asks about one student with a long history."""

from collections.abc import Callable, Iterator, Sequence

import pandas as pd

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.outlook import Skill, outlooks, skill
from gradebook.analytics.needle.prospect import prospects
from gradebook.analytics.readiness import check_chance
from gradebook.analytics.suggestion import Wish, suggest
from tests.bench.measuring import Figure, groupby
from tests.bench.reading import believed, with_a_lesson_left
from tests.bench.schools import Sizes, columns_of, young_parameters

PACE, MINUTES, EACH = 7.0, 75.0, 5.0


def asking(frame: pd.DataFrame, size: Sizes) -> Iterator[Figure]:
    """Each question with all it needs, from the beliefs on; the base is the whole history."""
    own, _ = with_a_lesson_left(frame)
    kept, known = believed(own), young_parameters()
    base = groupby(own, size.many)
    today = columns_of(own).day[-1] + PACE
    for name, tasks, question in _questions(kept):

        def work(
            tasks: Sequence[str] = tasks, question: Callable[[Skill], object] = question
        ) -> object:
            return question(skill(kept, known, tasks, today))

        yield base.figure(f"{name}, tasks: {len(tasks)}", work, size.many, len(tasks))


Question = tuple[str, Sequence[str], Callable[[Skill], object]]


def _questions(kept: Beliefs) -> Iterator[Question]:
    known, tasks = young_parameters(), kept.tasks
    wish = Wish(MINUTES, dict.fromkeys(tasks, EACH), watched=tasks[:1], stale=tasks[1:3])
    yield "outlooks", tasks, lambda now: outlooks(now, known)
    yield "prospect", tasks[:1], lambda now: prospects(now, known, PACE)
    yield "prospects", tasks, lambda now: prospects(now, known, PACE)
    yield "chance of a check", tasks[:15], lambda now: check_chance(now, known)
    yield "suggestion", tasks[:25], lambda now: suggest(now, known, wish)
