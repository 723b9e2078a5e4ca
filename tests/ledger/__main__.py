"""Both verifiers over many spoilt records: `python -m tests.ledger [--files 10000] [--seed 1]`.

Half of the files has fields spoilt in one to three ways, a quarter bytes, a quarter both. Every
disagreement is told, and ends the command with 1.
"""

import argparse
import sys
import time
from collections import Counter

from gradebook.ledger.bundle import verify_bundle
from tests.chromium import running_browser
from tests.ledger.mutating import mutated
from tests.ledger.test_two_verifiers import FINGERPRINT, asking

BATCH = 500


def main() -> None:
    """Judge them all twice; 1 when the two verifiers disagree anywhere."""
    asked = argparse.ArgumentParser(prog="python -m tests.ledger", description=__doc__)
    asked.add_argument("--files", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    began, codes, apart = time.perf_counter(), Counter[int](), 0
    with running_browser() as browser, asking(browser) as ask:
        for first in range(0, given.files, BATCH):
            numbers = range(first, min(first + BATCH, given.files))
            files = [mutated(given.seed, number) for number in numbers]
            ours = [verify_bundle(data, FINGERPRINT).code for _, data in files]
            theirs = ask([data for _, data in files], FINGERPRINT)
            codes.update(ours)
            for (name, _), one, other in zip(files, ours, theirs, strict=True):
                if one != other:
                    apart += 1
                    sys.stdout.write(f"{name}: program {one}, browser {other}\n")
    told = ", ".join(f"{code}: {number}" for code, number in sorted(codes.items()))
    took = time.perf_counter() - began
    sys.stdout.write(
        f"{given.files} files, {apart} disagreements, {took:.0f} s; codes {told}\n"
    )
    sys.exit(1 if apart else 0)


if __name__ == "__main__":
    main()
