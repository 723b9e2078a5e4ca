"""A student beside the others of the course."""

import pytest

from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.log import Columns, grade_log
from gradebook.charts.cohort import FEWEST_OTHERS, cohort
from gradebook.records.store.cohort import Cohort

LESSONS = 3


def among(person: dict[str, str]) -> Cohort:
    """So many lessons of one task for every enrolment."""
    rows = [(one, f"{one}-{lesson}", lesson) for one in person for lesson in range(LESSONS)]
    columns = Columns(
        [one for one, _, _ in rows],
        ["hover"] * len(rows),
        ["ina"] * len(rows),
        [lesson for _, lesson, _ in rows],
        [float(day) for _, _, day in rows],
        [1 + day % 4 for _, _, day in rows],
    )
    log = grade_log(columns, {"hover": "four"})[0]
    return Cohort(log, default_parameters([("four", 4, 3)]), person)


@pytest.mark.parametrize(
    ("whose", "others", "told"),
    [("ana", 4, 4), ("stranger", 4, 5), ("other-0", 4, 4), ("other-0", 5, 5)],
)
def test_who_comes_back_is_one_of_the_others_once_and_never_their_own(whose, others, told):
    person = {f"e{n}": f"other-{n}" for n in range(others)}
    found = cohort("mine", "ana", among({"mine": "ana", "again": whose, **person}))
    assert found.n == f"{told} other students"
    compared = "too few other students" not in str(found.title)
    assert compared == (told >= FEWEST_OTHERS)
