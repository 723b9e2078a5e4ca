"""`windtee simulate` and `windtee score`: forecasts held to a known truth."""

import argparse
import json
from collections.abc import Iterable, Iterator
from importlib import import_module
from importlib.util import find_spec
from itertools import chain
from pathlib import Path

import numpy as np
import pandas as pd

from gradebook.analytics import score as scores
from gradebook.analytics.forecast import Forecast
from gradebook.analytics.gradetable import TableError, read_grades
from gradebook.analytics.needle.floats import Flags, Floats
from gradebook.analytics.worlds import simulation
from gradebook.analytics.worlds.flights import LARGE, SMALL, Size
from gradebook.analytics.worlds.simulation import WORLDS, World
from gradebook.cli.console import say, warn
from gradebook.cli.safe import safe

Forecasts = dict[str, Floats | Forecast]

BAD_INPUT = 2
SIZES = {"small": (SMALL, 20), "large": (LARGE, 140)}
BOOSTING = "gradient boosting"
HOW_MADE = "Held-out students only; every forecast was made before its lesson."
MEANINGS = (
    "to limit: Brier score over that of the filter that knows the truth.",
    "cover: share of true chances inside the 80 % interval, for the row's own instructor and",
    "for a neutral one; severity: correlation of the instructors' severity with the true one.",
)
HEADS = "Brier", "log loss", "AUC", "ECE", "to limit", "cover", "neutral", "severity"


def simulate_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    command.add_argument(
        "--world", required=True, choices=WORLDS, help="how its students learn"
    )
    for name in ("students", "tasks", "instructors", "lessons"):
        command.add_argument(f"--{name}", type=int, default=getattr(SMALL, name), metavar="N")
    command.add_argument("--seed", type=int, default=0, help="the same seed, the same grades")
    command.add_argument("--out", type=Path, required=True, metavar="FILE.csv")
    command.add_argument(
        "--truth", type=Path, metavar="FILE.csv", help="also write the true chances"
    )
    command.set_defaults(run=simulate)


def score_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    command.add_argument("--worlds", type=_worlds, metavar="A,B,C", help="default: all three")
    command.add_argument("--size", choices=SIZES, default="small")
    command.add_argument(
        "--seeds", type=int, default=3, metavar="N", help="schools, or draws of who is held out"
    )
    command.add_argument(
        "--data", type=_named, action="append", default=[], metavar="NAME=FILE.csv"
    )
    command.add_argument("--levels", type=int, default=4, help="levels of the data's scale")
    command.add_argument("--standard", type=int, default=3, help="first level that meets it")
    command.add_argument("--json", action="store_true", help="print JSON")
    command.set_defaults(run=score)


def simulate(chosen: argparse.Namespace) -> int:
    """Write a simulated grade table, and on request the truth row by row."""
    try:
        size = Size(chosen.students, chosen.tasks, chosen.instructors, chosen.lessons)
        world = simulation.simulate(chosen.world, size, chosen.seed)
        safe(world.grades).to_csv(chosen.out, index=False)
        if chosen.truth:
            safe(_truth(world)).to_csv(chosen.truth, index=False, float_format="%.6f")
    except (ValueError, OSError) as error:
        warn(str(error))
        return BAD_INPUT
    say(f"{len(world.grades)} grades of {size.students} students written to {chosen.out}.")
    return 0


def _truth(world: World) -> pd.DataFrame:
    keys = world.grades[["student", "task", "instructor", "lesson"]]
    severity = keys["instructor"].map(world.severity).rename("severity")
    return pd.concat([keys, world.truth, severity], axis=1)


def score(chosen: argparse.Namespace) -> int:
    """Print how each predictor did; 2 when a table cannot be read."""
    if chosen.seeds < 1 or not 2 <= chosen.standard <= chosen.levels:
        warn("--seeds is at least 1, --standard lies between 2 and --levels.")
        return BAD_INPUT
    try:
        frames = {name: read_grades(path, chosen.levels) for name, path in chosen.data}
    except TableError as fault:
        warn(*fault.words)
        return BAD_INPUT
    lonely = [name for name, frame in frames.items() if frame["student"].nunique() < 2]
    if lonely:
        warn(
            *(f"{name}: with fewer than two students none can be held out." for name in lonely)
        )
        return BAD_INPUT
    tables = chain(_worlds_scored(chosen), _data_scored(frames, chosen))
    return _say_json(dict(tables)) if chosen.json else _say_tables(tables)


def _say_json(tables: dict[str, pd.DataFrame]) -> int:
    plain = {name: json.loads(one.to_json(orient="index")) for name, one in tables.items()}
    missing = [] if _has_boosting() else [BOOSTING]
    say(json.dumps({"scores": plain, "not_measured": missing}, indent=2, ensure_ascii=False))
    return 0


def _say_tables(tables: Iterable[tuple[str, pd.DataFrame]]) -> int:
    truth_known = False
    for name, table in tables:
        say(name, *_lines(table), "")
        truth_known |= scores.LIMIT in table.index
    if not _has_boosting():
        say(f"{BOOSTING}: not measured (scikit-learn is not installed)")
    say(HOW_MADE, *(MEANINGS if truth_known else ()))
    return 0


def _worlds_scored(chosen: argparse.Namespace) -> Iterator[tuple[str, pd.DataFrame]]:
    """Title and mean scores of each world; all three unless some or a table are asked for."""
    size, fitted = SIZES[chosen.size]
    for name in chosen.worlds or (() if chosen.data else WORLDS):
        schools = (simulation.simulate(name, size, seed) for seed in range(chosen.seeds))
        found = pd.concat([_score_world(school, fitted) for school in schools])
        title = f"World {name}, {chosen.size}, mean of {chosen.seeds}"
        yield title, found.groupby(level=0, sort=False).mean()


def _data_scored(
    frames: dict[str, pd.DataFrame], chosen: argparse.Namespace
) -> Iterator[tuple[str, pd.DataFrame]]:
    """Title and mean scores of each table, over draws of the students held out."""
    for name, frame in frames.items():
        found = pd.concat([_score_table(frame, seed, chosen) for seed in range(chosen.seeds)])
        counts = (f"{frame[one].nunique()} {one}s" for one in ("student", "task", "instructor"))
        title = f"{name}: {len(frame)} grades, {', '.join(counts)}, mean of {chosen.seeds}"
        yield title, found.groupby(level=0, sort=False).mean()


def _score_table(frame: pd.DataFrame, seed: int, chosen: argparse.Namespace) -> pd.DataFrame:
    train = scores.held_out(frame["student"], seed)
    found = _forecasts(frame, chosen.levels, chosen.standard, train)
    return scores.score(frame, train, found, chosen.standard)


def _score_world(world: World, fitted: int) -> pd.DataFrame:
    train = world.flights.student < fitted
    found = _forecasts(world.grades, world.levels, world.standard, train)
    return scores.score(world, train, {**found, **scores.limit(world, train)})


def _forecasts(frame: pd.DataFrame, levels: int, standard: int, train: Flags) -> Forecasts:
    meets = frame["grade"].to_numpy() >= standard
    found: Forecasts = {**scores.simple_forecasts(frame, meets, train)}
    if _has_boosting():
        learner = import_module("gradebook.analytics.predictors.boosting")
        found[BOOSTING] = learner.boosting(frame, meets, train)
    return {**found, **scores.our_forecast(frame, levels, standard, train)}


def _has_boosting() -> bool:
    return find_spec("sklearn") is not None


def _lines(table: pd.DataFrame) -> Iterator[str]:
    """The scores as text, without columns of which nothing is known."""
    known = [at for at, name in enumerate(scores.COLUMNS) if table[name].notna().any()]
    width = max(map(len, table.index))
    yield " " * width + "".join(f"{HEADS[at]:>10}" for at in known)
    for name, row in table.iterrows():
        cells = (row[scores.COLUMNS[at]] for at in known)
        numbers = "".join(f"{'-' if np.isnan(one) else f'{one:.4f}':>10}" for one in cells)
        yield f"{name:<{width}}{numbers}"


def _worlds(written: str) -> tuple[str, ...]:
    names = tuple(written.split(","))
    if not set(names) <= set(WORLDS):
        raise argparse.ArgumentTypeError(f"worlds are {', '.join(WORLDS)}")
    return names


def _named(written: str) -> tuple[str, Path]:
    name, equals, path = written.partition("=")
    if not (name and equals and path):
        raise argparse.ArgumentTypeError("give NAME=FILE.csv")
    return name, Path(path)
