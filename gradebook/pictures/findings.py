"""What a chart shows, in one sentence: its heading, and the label of the picture."""

from collections.abc import Sequence

from gradebook.formats import chance, count, share
from gradebook.pictures.arcs import GREEN_FROM
from gradebook.pictures.plane import said_at
from gradebook.pictures.series import (
    SEVERITY,
    CohortBand,
    ForecastBin,
    Gauge,
    Opportunity,
    ScoreRun,
    SeverityRow,
    Spot,
    SurvivalCurve,
    TrendPoint,
    median,
    place,
)


def trend(points: Sequence[TrendPoint], band: float = GREEN_FROM) -> str:
    """How likely the standard is met now, from where it came, how many grades met it."""
    grades = [point.met for point in points if point.met is not None]
    known = [point for point in points if point.chance is not None]
    if not points or not (grades or known):
        return "No counted grades yet"
    met = f"{sum(grades)} of {count(len(grades), 'grade')} met it"
    if not known:
        return f"Too few grades to tell; {met}"
    first, last = known[0], known[-1]
    where = "in the green band" if (last.chance or 0) >= band else "below the green band"
    interval = f"80 % interval {round(last.low * 100)} to {share(last.high)}"
    begun = f", {chance(first.chance or 0)} at first" if len(known) > 1 else ""
    likely = f"{chance(last.chance or 0)} likely to meet the standard"
    return f"{likely} ({interval}), {where}{begun}; {met}"


def run(opportunities: Sequence[Opportunity], target: float, window: int = 5) -> str:
    """How often the error came, lately and in all, and how many were clean since."""
    n = len(opportunities)
    marks = sum(one.error for one in opportunities)
    chances = count(n, "opportunity", "opportunities")
    aim = f"target below {share(target)}"
    if not n:
        return f"No opportunity yet; {aim}"
    if not marks:
        return f"No error in {chances}; {aim}"
    lately = opportunities[-window:]
    recent = f", {sum(one.error for one in lately)} in the last {window}" if n > window else ""
    clean = clean_since(opportunities)
    since = f"{clean} clean since" if clean else "the latest had it"
    return f"{count(marks, 'error')} in {chances}{recent}; {since}; {aim}"


def clean_since(opportunities: Sequence[Opportunity]) -> int:
    """Clean opportunities after the last error."""
    places = [at for at, one in enumerate(opportunities, start=1) if one.error]
    return len(opportunities) - max(places, default=0)


def proof(runs: Sequence[ScoreRun]) -> str:
    """Whether there is enough evidence now, and whether it held."""
    n = sum(len(run.scores) for run in runs)
    tries = count(n, "attempt")
    if not n:
        return "No attempt yet: no evidence"
    last, seeking = runs[-1], len(runs) % 2 == 1
    before = n - len(last.scores)
    if seeking and last.reached:
        return f"Enough evidence at attempt {n}"
    if not seeking and last.reached:
        return f"Relapse at attempt {n}: the evidence no longer stands"
    if not seeking:
        return f"Enough evidence at attempt {before}; no relapse in {n - before} since"
    fallen = f", relapse at attempt {before}" if before else ""
    reached = (last.scores[-1] if last.scores else 0.0) / last.threshold
    return f"Not enough evidence after {tries}{fallen}: {share(reached)} of what is needed"


def severity(rows: Sequence[SeverityRow], gauge: Gauge = SEVERITY) -> str:
    """Who stands clearly off the middle, to which side; by default who grades harder."""
    if not rows:
        return gauge.none
    told = count(len(rows), "instructor")
    behind = count(sum(row.n for row in rows), gauge.counted)
    higher = [row.name for row in rows if row.clear and row.value > 0]
    lower = [row.name for row in rows if row.clear and row.value <= 0]
    parts = [
        f"{', '.join(names)} {gauge.act[len(names) > 1]} clearly {how}"
        for names, how in ((higher, gauge.higher), (lower, gauge.lower))
        if names
    ]
    return f"{'; '.join(parts) or gauge.nobody} ({told}, {behind})"


def survival(curves: Sequence[SurvivalCurve], unit: str = "lesson") -> str:
    """By when half of each group met the standard."""
    shown = [curve for curve in curves if curve.n]
    if not shown:
        return "No student has begun yet"
    if len(shown) == 1:
        said = _half(shown[0], unit)
        return said[0].upper() + said[1:]
    return "; ".join(f"{curve.name}: {_half(curve, unit)}" for curve in shown)


def _half(curve: SurvivalCurve, unit: str) -> str:
    n, half = count(curve.n, "student"), median(curve)
    if half is not None:
        return f"half met the standard by {unit} {half:g} (n = {n})"
    return f"fewer than half met the standard by {unit} {curve.followed:g} (n = {n})"


def reliability(bins: Sequence[ForecastBin]) -> str:
    """In how many groups the forecasts came true as often as they said."""
    n = sum(one.n for one in bins)
    if not n:
        return "No forecast has been tried yet"
    agreeing = sum(one.agrees for one in bins)
    groups = count(len(bins), "group")
    behind = count(n, "forecast")
    if agreeing == len(bins):
        return f"Forecasts came true as often as they said, in all of {groups} ({behind})"
    return f"Forecasts came true as often as they said in {agreeing} of {groups} ({behind})"


def cohort(
    own: Sequence[tuple[Spot, float]], bands: Sequence[CohortBand], unit: str = "attempt"
) -> str:
    """Where the student stands among those who were as far."""
    if not own:
        return "No estimate of this student yet"
    spot, value = own[-1]
    where = f"{share(value)} on {said_at(spot)}"
    if isinstance(spot, int | float):
        where = f"{share(value)} at {unit} {said_at(spot)}"
    band = next((one for one in reversed(bands) if place(one.at) == place(spot)), None)
    if band is None:
        return f"{where}; no other student to compare with there"
    return f"{where}, {_standing(value, band)} {count(band.n, 'student')}"


def _standing(value: float, band: CohortBand) -> str:
    if value < band.p10:
        return "in the lowest tenth of"
    if value < band.p25:
        return "between the 10th and the 25th percentile of"
    if value <= band.p75:
        return "in the middle half of"
    if value <= band.p90:
        return "between the 75th and the 90th percentile of"
    return "in the highest tenth of"
