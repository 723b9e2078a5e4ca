"""Many random lives of the outbox: `python -m tests.offline [--lives 2000] [--first 1]`."""

import argparse
import sys
import time

from tests.chromium import running_browser
from tests.offline.outbox import model_page, play


def main() -> None:
    """Play them and tell every fault with its seed; 1 when there is one."""
    asked = argparse.ArgumentParser(prog="python -m tests.offline", description=__doc__)
    asked.add_argument("--lives", type=int, default=2000)
    asked.add_argument("--first", type=int, default=1)
    given = asked.parse_args()
    began = time.perf_counter()
    with running_browser() as browser, model_page(browser) as page:
        faults = play(page, given.first, given.lives)
    for fault in faults:
        sys.stdout.write(f"{fault}\n")
    took = time.perf_counter() - began
    sys.stdout.write(f"{given.lives} sequences, {len(faults)} with faults, {took:.0f} s\n")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
