"""The bill of materials names every part of the locks, with its hashes, the same each time."""

import json
import re
import subprocess
import sys

import pytest

from tests.run import ROOT
from tests.security.parts import bill, licence_of, parts

LOCKS = {name: (ROOT / f"tests/locks/{name}.txt").read_text() for name in ("run", "test")}


@pytest.mark.parametrize("name", LOCKS)
def test_every_part_of_a_lock_is_named_with_all_its_hashes(name: str) -> None:
    found = bill(name)["components"]
    pinned = [line for line in LOCKS[name].splitlines() if re.match(r"[\w.-]+.*==", line)]
    assert len(found) == len(pinned) > 50
    assert sum(len(one["hashes"]) for one in found) == LOCKS[name].count("--hash=sha256:")
    assert all(one["hashes"] for one in found)
    assert len({one["bom-ref"] for one in found}) == len(found)


def test_the_bill_is_what_cyclonedx_asks_for() -> None:
    """Required fields and shapes of CycloneDX 1.6, from memory of its JSON schema."""
    made = bill("run")
    assert (made["bomFormat"], made["specVersion"], made["version"]) == ("CycloneDX", "1.6", 1)
    assert re.fullmatch(
        r"urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", made["serialNumber"]
    )
    for one in made["components"]:
        assert {"type", "name", "version", "purl", "bom-ref", "hashes"} <= set(one)
        assert re.fullmatch(r"pkg:pypi/[a-z0-9-]+@[^@]+", one["purl"])


def test_licences_are_told_where_packages_tell_them() -> None:
    told = [one for one in bill("run")["components"] if "licenses" in one]
    assert len(told) > 20
    assert "BSD" in licence_of("flask")
    assert licence_of("no-such-package") == ""


def test_a_changed_lock_is_another_bill() -> None:
    (one,) = parts(f"flask==3.1.3 \\\n    --hash=sha256:{'ab' * 32}\n    # via windtee\n")
    assert (one["name"], one["version"]) == ("flask", "3.1.3")
    assert one["hashes"] == [{"alg": "SHA-256", "content": "ab" * 32}]
    assert bill("run")["serialNumber"] != bill("test")["serialNumber"]


def test_the_command_writes_the_same_at_each_run() -> None:
    told = {
        subprocess.run(
            [sys.executable, "-m", "tests.security.parts"],
            cwd=ROOT,
            capture_output=True,
            check=True,
        ).stdout
        for _ in range(2)
    }
    assert len(told) == 1
    assert json.loads(told.pop())["components"]
