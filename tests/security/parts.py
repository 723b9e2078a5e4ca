"""The bill of materials: `python -m tests.security.parts [run|test]`, CycloneDX 1.6 as JSON.

Made of the hash-pinned lock alone, without network, the same at each run; licences are those
that installed packages tell. Of a package for several machines every hash is named.
"""

import json
import re
import sys
import uuid
from importlib import metadata
from pathlib import Path
from typing import Any

from gradebook import __version__
from tests.run import ROOT

LOCKS = ROOT / "tests/locks"
PINNED = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^\]]*\])?==([^ ;\\]+)", re.MULTILINE)
HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


def parts(lock: str) -> list[dict[str, Any]]:
    """Every package a lock pins, by name, with all hashes it may have."""
    found = list(PINNED.finditer(lock))
    ends = [*(one.start() for one in found[1:]), len(lock)]
    made = (
        _part(one[1].lower(), one[2], HASH.findall(lock[one.end() : end]))
        for one, end in zip(found, ends, strict=True)
    )
    return sorted(made, key=lambda part: part["purl"])


def _part(name: str, version: str, hashes: list[str]) -> dict[str, Any]:
    purl = f"pkg:pypi/{re.sub(r'[-_.]+', '-', name)}@{version}"
    part = {"type": "library", "name": name, "version": version, "purl": purl, "bom-ref": purl}
    part["hashes"] = [{"alg": "SHA-256", "content": one} for one in sorted(hashes)]
    if licence := licence_of(name):
        part["licenses"] = [{"license": {"name": licence}}]
    return part


def licence_of(name: str) -> str:
    """What the installed package says of its licence; empty where it says nothing short."""
    try:
        told = metadata.metadata(name)
    except metadata.PackageNotFoundError:
        return ""
    said = [told.get("License-Expression"), *_classified(told), told.get("License")]
    return next((one for one in said if one and "\n" not in one and len(one) < 80), "")


def _classified(told: Any) -> list[str]:
    heads = [one for one in told.get_all("Classifier", ()) if one.startswith("License ::")]
    return [one.rpartition(" :: ")[2] for one in heads]


def bill(name: str) -> dict[str, Any]:
    """The whole bill of one lock: `run`, what is installed to run, or `test`."""
    lock = (LOCKS / f"{name}.txt").read_text(encoding="utf-8")
    number = uuid.uuid5(uuid.NAMESPACE_URL, f"windtee {__version__} {name}\n{lock}")
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{number}",
        "version": 1,
        "metadata": {
            "component": {"type": "application", "name": "windtee", "version": __version__}
        },
        "components": parts(lock),
    }


def main() -> None:
    """Write the bill to standard output."""
    name = sys.argv[1] if len(sys.argv) > 1 else "run"
    if not Path(LOCKS / f"{name}.txt").is_file():
        sys.exit("usage: python -m tests.security.parts [run|test]")
    json.dump(bill(name), sys.stdout, indent=1, sort_keys=True)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main()
