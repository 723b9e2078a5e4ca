"""Acts on a school in processes of their own, each cut down at a chosen moment.

`python -m tests.records.keeping.cutting` reads a list of [act, folder, URL, cut] as JSON and
prints how each process ended (0, or minus the signal). A cut is null, `["statement", n]` (kill
-9 before the nth statement, the commit counted), `["seconds", s]` (the alarm of the kernel,
which ends a process without a handler as suddenly) or `["bytes", n]` (no file may grow larger).
One process imports the program and forks the others, so that hundreds take seconds.
"""

import itertools
import json
import os
import resource
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from sqlalchemy import Engine, event

from gradebook.records import schema
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping import backup
from gradebook.settings import settings_in
from tests.run import ROOT

Cut = tuple[str, float] | None


def cut_down(cuts: list[tuple[str, Path, str, Cut]]) -> list[int]:
    """How each act ended."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.records.keeping.cutting"],
        input=json.dumps([[act, str(data), url, cut] for act, data, url, cut in cuts]),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    ended: list[int] = json.loads(done.stdout.splitlines()[-1])
    return ended


def prepare(cut: Cut, engine: Engine) -> None:
    """Arrange for the end."""
    kind, at = cut or ("", 0.0)
    if kind == "bytes":
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(at), int(at)))
    if kind == "seconds":
        signal.setitimer(signal.ITIMER_REAL, at)
    if kind == "statement":
        counter = itertools.count(1)

        def count(*_: object) -> None:
            if next(counter) == at:
                os.kill(os.getpid(), signal.SIGKILL)

        event.listen(engine, "before_cursor_execute", count)
        event.listen(engine, "commit", count)


def act(name: str, data: Path, url: str, cut: Cut) -> None:
    """One act, in the process that may die of it."""
    engine = open_engine(url)
    prepare(cut, engine)
    if name == "upgrade":
        schema.upgrade(engine)
    else:
        settings = replace(settings_in(data), database=url)
        backup.back_up(settings, Database(engine), backup.Wanted(data / "backups"))
    engine.dispose()


def main() -> None:
    """Fork, act, wait, print."""
    ended = []
    for name, data, url, cut in json.load(sys.stdin):
        child = os.fork()
        if not child:
            status = 1
            try:
                act(name, Path(data), url, cut)
                status = 0
            except backup.BackupError as refusal:
                print(refusal, file=sys.stderr, flush=True)  # noqa: T201
                status = 3
            finally:
                os._exit(status)
        ended.append(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
    print(json.dumps(ended))  # noqa: T201


if __name__ == "__main__":
    main()
