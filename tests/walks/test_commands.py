import subprocess
import sys

import pytest

from gradebook.cli import main
from gradebook.cli.commands import COMMANDS

HEAVY = ("flask", "pandas", "plotly", "scipy", "weasyprint")
PROBE = f"""
import sys
from gradebook.cli import main
try:
    main(sys.argv[1:])
except SystemExit:
    pass
print("read:", *(name for name in {HEAVY} if name in sys.modules))
"""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_takes(name, capsys):
    with pytest.raises(SystemExit) as end:
        main([name, "--help"])
    assert end.value.code == 0
    assert f"usage: windtee {name}" in capsys.readouterr().out


@pytest.mark.parametrize("words", [["--help"], ["verify", "no.windtee-record"]])
def test_help_and_a_verdict_wait_for_nothing_they_do_not_need(words):
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *words], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "read:"


def test_a_command_that_is_not_there_is_refused_with_those_that_are(capsys):
    with pytest.raises(SystemExit) as end:
        main(["land"])
    assert end.value.code == 2
    said = capsys.readouterr().err
    assert "invalid choice: 'land'" in said
    assert "'verify'" in said
