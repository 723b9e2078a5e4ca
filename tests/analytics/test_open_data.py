"""The open data as grade tables, and severity of real judges against a published model."""

import numpy as np
import pytest

from gradebook.analytics.forecast import forecast
from gradebook.analytics.gradetable import COLUMNS, read_grades
from tests.analytics.open_data import SETS, wine, write

# Judges' modes of the cumulative logit model with a random judge; R ordinal::clmm on
# ordinal::wine (Randall, Biometrical Journal 31 (1989) 781-793). A high mode is lenient.
MODES = [1.698, -0.567, 0.971, -0.059, 0.231, 0.478, -1.914, -0.273, -0.555]


@pytest.mark.parametrize("name", SETS)
def test_a_set_is_a_grade_table_on_its_scale(name):
    found = SETS[name]()
    assert list(found.grades) == list(COLUMNS)
    assert found.grades["grade"].between(1, found.levels).all()
    assert 0.1 < (found.grades["grade"] >= found.standard).mean() < 0.9


def test_the_files_written_can_be_read_back(tmp_path, capsys):
    write(tmp_path)
    assert capsys.readouterr().out.count("windtee score --data") == len(SETS)
    assert len(read_grades(tmp_path / "wine.csv", 5)) == 72


def test_severity_of_wine_judges_agrees_with_the_published_model():
    found = wine()
    severity = forecast(found.grades, found.levels, found.standard).severity
    ours = [severity[str(judge)] for judge in range(1, 10)]
    assert np.corrcoef(ours, MODES)[0, 1] < -0.9
