"""`windtee agreement`: what it prints for a good file, and what for one with faults."""

import json
from pathlib import Path

import pytest

from gradebook.cli import main

# Krippendorff 2011, from memory: 4 observers, 12 units
OBSERVERS = """\
unit,Ann,Ben,Cleo,Dov
1,1,1,,1
2,2,2,3,2
3,3,3,3,3
4,3,3,3,3
5,2,2,2,2
6,1,2,3,4
7,4,4,4,4
8,1,1,2,1
9,2,2,2,2
10,,5,5,5
11,,,1,1
12,,3,,
"""
# Shrout & Fleiss 1979: 6 targets, 4 judges (from memory)
TARGETS = "A;B;C;D\n9;2;5;8\n6;1;3;2\n8;4;6;8\n7;1;2;6\n10;5;6;9\n6;2;4;7\n"


@pytest.fixture
def agree(tmp_path, capsys):
    """Run the command on a text: exit code, output, complaints."""

    def run(text: str | bytes, *options: str) -> tuple[int, str, str]:
        path: Path = tmp_path / "ratings.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        code = main(["agreement", str(path), *options])
        said = capsys.readouterr()
        return code, said.out, said.err.replace(str(path), "ratings.csv")

    return run


@pytest.fixture
def measured(agree):
    """The measures of a text by name and raters, read from the JSON."""

    def run(text: str, level: str) -> dict[str, dict[str, object]]:
        code, out, err = agree(text, "--level", level, "--json")
        assert (code, err) == (0, "")
        measures = json.loads(out)["measures"]
        return {" ".join([one["name"], *one["raters"]]): one for one in measures}

    return run


@pytest.mark.parametrize(
    ("level", "alpha"), [("nominal", 0.743), ("ordinal", 0.815), ("interval", 0.849)]
)
def test_it_prints_alpha_of_krippendorffs_example(agree, level, alpha):
    code, out, err = agree(OBSERVERS, "--level", level)
    assert (code, err) == (0, "")
    assert "Raters 4, units 12, blanks 7." in out
    assert "Pairs of grades that are the same: 43 of 55 (78%)." in out
    row = next(line for line in out.splitlines() if line.startswith("Krippendorff"))
    assert row.split()[2] == f"{alpha:.3f}"
    assert row.split()[-1] == "11"
    assert "by custom .80 and above is firm" in out


def test_the_columns_of_the_table_stand_under_each_other(agree):
    _, out, _ = agree(TARGETS, "--level", "interval")
    rows = [line for line in out.splitlines() if line.startswith(("95 %", "Kripp", "ICC(2"))]
    assert len({len(row) for row in rows}) == 1


def test_every_pair_of_raters_has_its_kappa(measured):
    found = measured(OBSERVERS, "ordinal")
    assert [name for name in found if "linear" in name] == [
        "Kappa, linear Ann Ben", "Kappa, linear Ann Cleo", "Kappa, linear Ann Dov",
        "Kappa, linear Ben Cleo", "Kappa, linear Ben Dov", "Kappa, linear Cleo Dov",
    ]  # fmt: skip
    assert found["Kappa, quadratic Ann Ben"]["units"] == 9
    assert found["Kappa, quadratic Ann Ben"]["low"] < 0.94


def test_icc_is_given_for_a_complete_table(measured):
    found = measured(TARGETS, "interval")
    assert found["ICC(2,1)"]["value"] == pytest.approx(0.290, abs=5e-4)
    assert found["ICC(3,k)"]["value"] == pytest.approx(0.909, abs=5e-4)
    assert found["ICC(3,k)"]["low"] < 0.909 < found["ICC(3,k)"]["high"]


def test_what_is_not_defined_says_why(measured):
    found = measured(OBSERVERS, "ordinal")
    assert found["Fleiss' kappa"]["value"] is None
    assert found["Fleiss' kappa"]["why"] == "Not every rater graded every unit."
    assert found["ICC(2,1)"]["units"] == 8
    assert measured("Ann,Ben\nred,red\nred,blue\n", "nominal")["ICC"]["why"]


def test_words_are_grades_on_a_nominal_scale(agree):
    code, out, _ = agree("Ann,Ben\nyes,yes\nno,no\nyes,no\n", "--level", "nominal", "--json")
    whole = json.loads(out)
    assert (code, whole["level"], whole["units"], whole["raters"]) == (
        0, "nominal", 3, ["Ann", "Ben"],
    )  # fmt: skip
    assert whole["given"] == {"Ann": {"no": 1, "yes": 2}, "Ben": {"no": 2, "yes": 1}}


@pytest.mark.parametrize("rows", ["", "1,1\n", "1,1\n1,1\n"])
def test_too_little_to_measure_is_said_in_words(agree, rows):
    code, out, err = agree(f"Ann,Ben\n{rows}", "--level", "ordinal")
    assert (code, err) == (0, "")
    row = next(line for line in out.splitlines() if line.startswith("Krippendorff"))
    assert "Fewer than two units" in row or "All grades are the same" in row
    assert "nan" not in out


def test_one_rater_agrees_with_nobody(agree):
    code, out, _ = agree("unit,Ann\na,1\nb,2\n", "--level", "interval")
    assert code == 0
    assert "There are not two raters." in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("unit,Ann,Ben\na,1,2\nb,1,2\nc,1,x\n", 'line 4, column "Ben": "x" is not a number.'),
        ("Ann,Ben\n\n1,nan\n", 'line 3, column "Ben": "nan" is not a number.'),
        ("Ann,Ben\n1,2\n3\n", "line 3: 1 cells where the header has 2."),
        ("Ann,Ann\n1,2\n", 'line 1, column "Ann": this name stands there twice.'),
        ("Ann,\n1,2\n", "line 1: column 2 has no name."),
        ("unit\na\n", "line 1: there is no column of a rater."),
        ("", "The file is empty."),
        (b"Ann,Ben\n1,\xff\n", "line 2: This is not UTF-8. Save the file as CSV UTF-8."),
        ('Ann,Ben\n1,"2\n', "line 2: This cannot be read as CSV: unexpected end of data."),
    ],
)
def test_a_fault_is_named_with_its_line_and_column(agree, text, words):
    assert agree(text, "--level", "ordinal") == (2, "", f"ratings.csv: {words}\n")


def test_every_fault_is_named_at_once(agree):
    code, _, err = agree("Ann,Ben\nx,y\n1\n", "--level", "interval")
    assert (code, len(err.splitlines())) == (2, 3)


def test_a_file_that_does_not_exist_is_named(tmp_path, capsys):
    assert main(["agreement", str(tmp_path / "none.csv"), "--level", "nominal"]) == 2
    assert "none.csv: No such file" in capsys.readouterr().err


def test_many_different_grades_are_not_listed(agree):
    rows = "".join(f"{n},{n + 0.5}\n" for n in range(20))
    _, out, _ = agree(f"Ann,Ben\n{rows}", "--level", "interval")
    assert "grades given" not in out
