"""`windtee forecast`: what it writes for a table of grades, and what it says of a wrong one."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import pytest

from gradebook.cli import main

NAMES = ["student", "task", "instructor", "lesson", "flown_on", "grade"]
HEADER = ",".join(NAMES) + "\n"
ADDED = [
    "fitted_on", "attempts_before", "p_meets_standard", "lower80", "upper80", "p_neutral",
    "neutral_lower80", "neutral_upper80",
]  # fmt: skip
FOUR = ("--levels", "4", "--standard", "3")
UNFITTED = (*FOUR, "--train-until", "0")


@dataclass
class Answer:
    """What came of a command: exit code, words, complaints, table."""

    code: int
    out: str
    err: str
    table: pd.DataFrame = field(default_factory=pd.DataFrame)

    def same_as(self, other: "Answer") -> bool:
        """Whether both tables say the same of every row."""
        return self.table[ADDED[1:]].equals(other.table[ADDED[1:]])


@pytest.fixture
def forecast(tmp_path, capsys):
    """Run the command on a text."""

    def run(text: str | bytes, *options: str) -> Answer:
        grades, made = tmp_path / "grades.csv", tmp_path / "made.csv"
        made.unlink(missing_ok=True)
        grades.write_bytes(text if isinstance(text, bytes) else text.encode())
        code = main(["forecast", str(grades), "--out", str(made), *(options or FOUR)])
        said = capsys.readouterr()
        assert made.exists() == (code == 0)
        table = pd.read_csv(made, dtype={"lesson": str}) if code == 0 else pd.DataFrame()
        return Answer(code, said.out, said.err, table)

    return run


def school(levels: int = 4) -> pd.DataFrame:
    """Six students, five lessons of two tasks, two instructors, five days apart."""
    random, rows = np.random.default_rng(1), []
    for student in range(6):
        for lesson in range(1, 6):
            for task in ("hover", "run-up"):
                grade = int(np.clip(lesson - 2 + random.integers(0, 3), 1, levels))
                hand = "Ben" if (student + lesson) % 2 else "Dov"
                day = f"2031-05-{lesson * 5:02d}"
                rows.append((f"S{student}", task, hand, lesson, day, grade))
    return pd.DataFrame(rows, columns=NAMES)


def text(frame: pd.DataFrame) -> str:
    return frame.to_csv(index=False)


def test_every_row_gets_its_forecast_in_its_place(forecast):
    frame = school().sample(frac=1, random_state=2).assign(remark="with\ncare, 'always'")
    answer = forecast(text(frame))
    assert (answer.code, answer.table.columns.to_list()) == (0, [*NAMES, "remark", *ADDED])
    given = answer.table[[*NAMES, "remark"]].astype(str)
    assert given.equals(frame.reset_index(drop=True).astype(str))
    assert "60 grades of 6 students and 2 tasks; fitted on 60." in answer.out
    assert "round 1 of at most 8" in answer.err


def test_a_forecast_is_a_chance_inside_its_interval(forecast):
    for levels in (2, 9):
        options = ("--levels", str(levels), "--standard", "2", "--train-until", str(levels - 2))
        table = forecast(text(school(levels=levels)), *options).table
        for chance, low, high in (ADDED[2:5], ADDED[5:8]):
            values = table[[low, chance, high]].to_numpy()
            assert ((values >= 0) & (values <= 1)).all()
            assert ((table[low] <= table[chance]) & (table[chance] <= table[high])).all()


def test_the_lessons_may_stand_in_any_order(forecast):
    frame = school()
    turned = frame.sort_values("lesson", ascending=False, kind="stable")
    ordered, mixed = (forecast(text(one), *UNFITTED).table for one in (frame, turned))
    by = ["student", "lesson", "task"]
    assert mixed.sort_values(by, ignore_index=True).equals(ordered.sort_values(by))


def test_attempts_before_counts_earlier_lessons(forecast):
    table = forecast(text(school()), *UNFITTED).table
    assert (table["attempts_before"] == table["lesson"].astype(int) - 1).all()


@pytest.mark.parametrize("lessons", ["numbers", "names"])
def test_a_forecast_knows_neither_its_own_lesson_nor_a_later_one(forecast, lessons, tmp_path):
    frame = school()
    if lessons == "names":  # two lessons a day, their rows mixed, some dates left out
        frame["lesson"] = "L" + frame["lesson"].astype(str)
        frame["flown_on"] = np.where(frame["lesson"] == "L2", "2031-05-05", frame["flown_on"])
        frame = frame.sort_values(["student", "task", "lesson"])
        frame.iloc[1::7, frame.columns.get_loc("flown_on")] = ""
    nobody = tmp_path / "nobody.txt"
    nobody.write_text("")  # so that the changes below are not fitted on
    options = (*FOUR, "--train-students", str(nobody))
    before = forecast(text(frame), *options)
    last = frame["lesson"].astype(str).isin({"5", "L5"}) & (frame["student"] == "S0")
    changed = forecast(text(frame.assign(grade=frame["grade"].mask(last, 1))), *options)
    assert before.same_as(changed)
    second = frame["lesson"].astype(str).isin({"2", "L2"}) & (frame["student"] == "S0")
    again = forecast(text(frame.assign(grade=frame["grade"].mask(second, 4))), *options).table
    own = second.to_numpy()
    assert again[ADDED][own].equals(before.table[ADDED][own])
    assert not again[ADDED].equals(before.table[ADDED])


def test_it_is_fitted_on_the_lessons_asked_for(forecast):
    answer = forecast(text(school()), *FOUR, "--train-until", "3")
    assert "fitted on 36." in answer.out
    early = answer.table["lesson"].astype(int) <= 3
    assert (answer.table["fitted_on"] == early).all()
    frame = school()
    later = frame.assign(grade=frame["grade"].mask(frame["lesson"] > 3, 1))
    other = forecast(text(later), *FOUR, "--train-until", "3").table
    upto = (frame["lesson"] <= 4).to_numpy()
    assert other[upto][ADDED].equals(answer.table[upto][ADDED])


def test_it_is_fitted_on_the_students_asked_for(forecast, tmp_path):
    named = tmp_path / "known.txt"
    named.write_text("S1\n\n  S4  \n", "utf-8-sig")
    answer = forecast(text(school()), *FOUR, "--train-students", str(named))
    assert "fitted on 20." in answer.out
    assert (answer.table["fitted_on"] == answer.table["student"].isin(["S1", "S4"])).all()


def test_a_student_nobody_knows_is_named(forecast, tmp_path):
    named = tmp_path / "known.txt"
    named.write_text("S1\nNobody\n")
    answer = forecast(text(school()), *FOUR, "--train-students", str(named))
    assert (answer.code, answer.err) == (2, "known.txt: no student 'Nobody' in the table.\n")
    named.unlink()
    assert forecast(text(school()), *FOUR, "--train-students", str(named)).code == 2


def test_one_instructor_and_no_dates_are_enough(forecast):
    answer = forecast(text(school().assign(instructor="Ben", flown_on="")))
    assert answer.code == 0
    assert answer.table["p_neutral"].between(0, 1).all()
    same_day = forecast(text(school().assign(instructor="Ben", flown_on="2031-05-28")))
    assert answer.same_as(same_day)


def test_lessons_may_have_names_and_go_by_date(forecast):
    numbered = school()
    named = numbered.assign(lesson="L" + numbered["lesson"].astype(str))
    assert forecast(text(numbered)).same_as(forecast(text(named)))
    answer = forecast(text(named), *FOUR, "--train-until", "3")
    assert (answer.code, answer.err) == (2, "--train-until needs lessons that are numbers.\n")


@pytest.mark.parametrize("n", [0, 1, 2])
def test_no_row_and_one_and_two(forecast, n):
    answer = forecast(text(school()[:n]))
    assert answer.code == 0
    assert answer.table.columns.to_list() == [*NAMES, *ADDED]
    assert len(answer.table) == n
    assert answer.table["p_meets_standard"].between(0, 1).all()


def test_its_own_output_may_be_read_again(forecast):
    first = forecast(text(school()), *UNFITTED)
    again = forecast(text(first.table), *UNFITTED)
    assert again.same_as(first)
    assert again.table.columns.to_list() == first.table.columns.to_list()


GOOD = "S0,hover,Ben,1,2031-05-28,3\n"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            "S0,hover,Ben,1,2031-05-28,5\n",
            "line 3: grade '5' is not a whole number from 1 to 4.",
        ),
        ("S0,hover,Ben,1,2031-05-28,0\n", "line 3: grade '0' is not"),
        ("S0,hover,Ben,1,2031-05-28,2.5\n", "line 3: grade '2.5' is not"),
        ("S0,hover,Ben,1,2031-05-28,\n", "line 3: grade '' is not"),
        (
            "S0,hover,Ben,1,28 May,3\n",
            "line 3: flown_on '28 May' is not a date like 2031-05-28.",
        ),
        ("S0,hover,Ben,1,2031-02-30,3\n", "line 3: flown_on '2031-02-30' is not"),
        (",hover,Ben,1,2031-05-28,3\n", "line 3: no student."),
        ("S0, ,Ben,1,2031-05-28,3\n", "line 3: no task."),
        ("\n\nS0,hover,Ben,1,2031-05-28,x\n", "line 5: grade 'x' is not"),
    ],
)
def test_a_fault_is_told_with_its_line(forecast, rows, words):
    answer = forecast(HEADER + GOOD + rows)
    assert answer.code == 2
    assert answer.err.startswith(f"grades.csv, {words}")
    assert len(answer.err.splitlines()) == 1


def test_every_fault_is_told_up_to_twenty(forecast):
    answer = forecast(HEADER + "S0,hover,Ben,1,2031-05-28,9\n" * 30)
    assert len(answer.err.splitlines()) == 21
    assert answer.err.endswith("and 10 more.\n")


def test_a_table_without_its_columns_is_refused(forecast):
    answer = forecast("student,task,lesson,grade\nS0,hover,1,3\n")
    words = "grades.csv, line 1: no column instructor.\n"
    assert (answer.code, answer.err) == (2, words)
    assert forecast("").code == 2
    assert "grades.csv" in forecast(HEADER.encode() + b"\xff,a,b,1,,3\n").err


@pytest.mark.parametrize(("levels", "standard"), [(4, 1), (4, 5), (1, 1), (2, 0)])
def test_a_standard_outside_the_scale_is_refused(forecast, levels, standard):
    answer = forecast(text(school()), "--levels", str(levels), "--standard", str(standard))
    assert answer.code == 2
    assert f"--standard lies between 2 and --levels ({levels})." in answer.err


def test_numbers_may_be_written_as_a_spreadsheet_writes_them(forecast):
    plain = forecast(HEADER + GOOD + "S0,hover,Ben,2,2031-06-01,4\n")
    other = (
        "\ufeff"
        + HEADER
        + GOOD.replace(",3\n", ",3.0\r\n")
        + "S0,hover,Ben,2,2031-06-01,4 \n\n"
    )
    assert forecast(other).same_as(plain)


def test_a_file_that_is_not_there_is_named(tmp_path, capsys):
    missing, made = str(tmp_path / "none.csv"), str(tmp_path / "made.csv")
    assert main(["forecast", missing, "--out", made, *FOUR]) == 2
    assert "none.csv" in capsys.readouterr().err


@pytest.mark.parametrize("missing", ["", "NaN", "NA", "none", " null "])
def test_a_missing_date_may_be_written_as_programs_write_it(forecast, missing):
    rows = [f"S0,hover,Ben,{lesson},{missing},3" for lesson in (1, 2)]
    blank = forecast(HEADER + "".join(f"S0,hover,Ben,{one},,3\n" for one in (1, 2)))
    answer = forecast(HEADER + "\n".join(rows) + "\n")
    assert answer.code == 0
    assert answer.table[ADDED].equals(blank.table[ADDED])
    without = "student,task,instructor,lesson,grade\nS0,hover,Ben,1,3\nS0,hover,Ben,2,3\n"
    assert forecast(without).table[ADDED].equals(blank.table[ADDED])


@pytest.mark.parametrize("extra", [",x", ","])
def test_a_row_with_a_cell_too_many_is_named_by_its_line(forecast, extra):
    lines = school().to_csv(index=False).splitlines()
    for line in (1, 4):  # lines 2 and 5 of the file
        lines[line] += extra
    said = forecast("\n".join(lines), *UNFITTED)
    assert said.code == 2
    assert said.err.splitlines() == [
        "grades.csv, line 2: 7 cells where the header has 6.",
        "grades.csv, line 5: 7 cells where the header has 6.",
    ]


def test_a_name_that_a_spreadsheet_would_work_out_is_written_with_a_quote(forecast):
    text = school().to_csv(index=False).replace("hover", "=1+1")
    said = forecast(text, *UNFITTED)
    assert set(said.table["task"]) == {"'=1+1", "run-up"}
    assert said.table["grade"].dtype.kind == "i"
