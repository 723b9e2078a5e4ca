"""Feed a reader with rubbish: `python -m tests.fuzz TARGET [--seconds 300]`.

Needs the package atheris, which nothing else here does: install it beside the test packages.
An input that lets a fault out is written to `tests/fuzz/found/TARGET`, where a test reads it.
"""

import argparse
import importlib
import sys
import tempfile
from pathlib import Path

atheris = importlib.import_module("atheris")  # in no lock: whoever feeds rubbish installs it
with atheris.instrument_imports(include=["gradebook", "openpyxl", "csv"]):
    from tests.fuzz.targets import LARGEST, TARGETS

FOUND = Path(__file__).with_name("found")
MEGABYTES, SECONDS_EACH = 512, 5


def main() -> None:
    """Begin with the seeds and go on until the time is over; ends with the fuzzer's status."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("target", choices=TARGETS)
    asked.add_argument("--seconds", type=int, default=300)
    given = asked.parse_args()
    target = TARGETS[given.target]
    with tempfile.TemporaryDirectory() as folder:
        for number, seed in enumerate(target.seeds):
            (Path(folder) / f"seed-{number}").write_bytes(seed)
        kept = FOUND / given.target
        kept.mkdir(parents=True, exist_ok=True)
        options = [
            f"-max_total_time={given.seconds}",
            f"-max_len={LARGEST}",
            f"-rss_limit_mb={MEGABYTES + 512}",  # the fuzzer and its corpus need some, too
            f"-timeout={SECONDS_EACH}",
            f"-artifact_prefix={kept}/",
            "-print_final_stats=1",
        ]
        atheris.Setup([sys.argv[0], *options, folder], target.read)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
