"""The developers' page says what the code does."""

from gradebook.records.permissions import MATRIX, Role
from tests.run import ROOT


def test_the_permission_table_is_the_matrix() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    for action, rules in MATRIX.items():
        cells = (", ".join(one.value for one in rules.get(role, ())) for role in Role)
        assert f"| {action.value} | {' | '.join(cells)} |" in text
    assert text.count("\n| ") >= len(MATRIX)


def test_the_map_names_folders_that_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    rows = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    named = [name for row in rows for name in row.split("`")[1::2] if "/" in name]
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []
