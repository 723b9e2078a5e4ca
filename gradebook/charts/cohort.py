"""One student beside the others of the same course who flew as many lessons."""

from functools import partial

import numpy as np
import pandas as pd

from gradebook.analytics.needle.foretold import chances
from gradebook.analytics.needle.replay import replay
from gradebook.charts.chart import Chart
from gradebook.formats import count
from gradebook.pictures import figures, findings, numbers
from gradebook.pictures.progress import cohort_strip
from gradebook.pictures.series import CohortBand
from gradebook.records.store.cohort import Cohort
from syllabus.saying import say

FEWEST_OTHERS = 5
"""With fewer others at a lesson no percentile is drawn there: one could tell who they are."""

PERCENTILES = [0.1, 0.25, 0.5, 0.75, 0.9]


def cohort(enrolment: str, person: str, among: Cohort) -> Chart:
    """A person's expected chance by lesson over the percentiles of the others' chances.

    `enrolment` is theirs in the course; of another one of theirs nothing is shown.
    """
    by_lesson = _by_lesson(among)
    mine = by_lesson["enrolment"] == enrolment
    own = [
        (int(number), float(chance))
        for number, chance in by_lesson.loc[mine, ["number", "chance"]].itertuples(index=False)
    ]
    others = by_lesson[by_lesson["person"] != person]
    bands = _bands(others)
    return Chart(
        "cohort",
        findings.cohort(own, bands, "lesson"),
        count(others["person"].nunique(), "other student"),
        cohort_strip(own, bands, "lesson"),
        numbers.cohort(own, bands, "lesson"),
        partial(figures.cohort_figure, own, bands, "lesson"),
        why=(
            say(
                "For each lesson, the mean chance of meeting the standard over the tasks "
                "graded that day, as expected before it, for an instructor of average "
                "severity. The band holds the other students of this course at the same "
                "lesson count; it is left out where there are fewer than "
                "{fewest_others}. Lessons differ: compare heights at one lesson, not the "
                "slope.",
                fewest_others=FEWEST_OTHERS,
            )
        ),
    )


def _by_lesson(among: Cohort) -> pd.DataFrame:
    """The mean chance of each lesson; `number` says the how-manieth of its student it is.

    `person` is whose enrolment it is.
    """
    log, none = among.log, np.zeros(len(among.log))
    chance, _, _ = chances(replay(log, among.parameters), none, none, among.parameters)
    table = pd.DataFrame({"place": log.student, "lesson": np.cumsum(log.opens)})
    found = table.assign(chance=chance).groupby(["place", "lesson"], as_index=False).mean()
    enrolments = np.array(log.students)[found["place"]]
    return found.assign(
        enrolment=enrolments,
        person=[among.person[one] for one in enrolments],
        number=found.groupby("place").cumcount() + 1,
    )


def _bands(others: pd.DataFrame) -> list[CohortBand]:
    found = []
    for number, rows in others.groupby("number"):
        people = rows["person"].nunique()
        if people >= FEWEST_OTHERS:
            p10, p25, p50, p75, p90 = map(float, np.quantile(rows["chance"], PERCENTILES))
            found.append(
                CohortBand(int(str(number)), p10, p25, p50, p75=p75, p90=p90, n=people)
            )
    return found
