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
from syllabus.saying import capital, joined, say


def trend(points: Sequence[TrendPoint], band: float = GREEN_FROM) -> str:
    """How likely the standard is met now, from where it came, how many grades met it."""
    grades = [point.met for point in points if point.met is not None]
    known = [point for point in points if point.chance is not None]
    if not points or not (grades or known):
        return say("No counted grades yet")
    met = say("{met} of {grades} met it", met=sum(grades), grades=count(len(grades), "grade"))
    if not known:
        return say("Too few grades to tell; {met}", met=met)
    first, last = known[0], known[-1]
    where = (
        say("in the green band") if (last.chance or 0) >= band else say("below the green band")
    )
    begun = (
        say(", {chance} at first", chance=chance(first.chance or 0)) if len(known) > 1 else ""
    )
    return say(
        "{chance} likely to meet the standard "
        "(80 % interval {low} to {high}), {where}{begun}; {met}",
        chance=chance(last.chance or 0),
        low=round(last.low * 100),
        high=share(last.high),
        where=where,
        begun=begun,
        met=met,
    )


def run(opportunities: Sequence[Opportunity], target: float, window: int = 5) -> str:
    """How often the error came, lately and in all, and how many were clean since."""
    n = len(opportunities)
    marks = sum(one.error for one in opportunities)
    chances = count(n, "opportunity", "opportunities")
    aim = say("target below {share}", share=share(target))
    if not n:
        return say("No opportunity yet; {aim}", aim=aim)
    if not marks:
        return say("No error in {chances}; {aim}", chances=chances, aim=aim)
    lately = opportunities[-window:]
    recent = (
        say(", {n} in the last {window}", n=sum(one.error for one in lately), window=window)
        if n > window
        else ""
    )
    clean = clean_since(opportunities)
    since = say("{clean} clean since", clean=clean) if clean else say("the latest had it")
    return say(
        "{errors} in {chances}{recent}; {since}; {aim}",
        errors=count(marks, "error"),
        chances=chances,
        recent=recent,
        since=since,
        aim=aim,
    )


def clean_since(opportunities: Sequence[Opportunity]) -> int:
    """Clean opportunities after the last error."""
    places = [at for at, one in enumerate(opportunities, start=1) if one.error]
    return len(opportunities) - max(places, default=0)


def proof(runs: Sequence[ScoreRun]) -> str:
    """Whether there is enough evidence now, and whether it held."""
    n = sum(len(run.scores) for run in runs)
    tries = count(n, "attempt")
    if not n:
        return say("No attempt yet: no evidence")
    last, seeking = runs[-1], len(runs) % 2 == 1
    before = n - len(last.scores)
    if seeking and last.reached:
        return say("Enough evidence at attempt {n}", n=n)
    if not seeking and last.reached:
        return say("Relapse at attempt {n}: the evidence no longer stands", n=n)
    if not seeking:
        return say(
            "Enough evidence at attempt {before}; no relapse in {since} since",
            before=before,
            since=n - before,
        )
    fallen = say(", relapse at attempt {before}", before=before) if before else ""
    reached = (last.scores[-1] if last.scores else 0.0) / last.threshold
    return say(
        "Not enough evidence after {tries}{fallen}: {share} of what is needed",
        tries=tries,
        fallen=fallen,
        share=share(reached),
    )


def severity(rows: Sequence[SeverityRow], gauge: Gauge = SEVERITY) -> str:
    """Who stands clearly off the middle, to which side; by default who grades harder."""
    if not rows:
        return gauge.none
    told = count(len(rows), "instructor")
    behind = count(sum(row.n for row in rows), gauge.counted)
    higher = [row.name for row in rows if row.clear and row.value > 0]
    lower = [row.name for row in rows if row.clear and row.value <= 0]
    parts = [
        say(
            "{names} {act} clearly {how}",
            names=", ".join(names),
            act=say(gauge.act[len(names) > 1]),
            how=say(how),
        )
        for names, how in ((higher, gauge.higher), (lower, gauge.lower))
        if names
    ]
    said = joined("; ", parts) if parts else gauge.nobody
    return say("{said} ({told}, {behind})", said=said, told=told, behind=behind)


def survival(curves: Sequence[SurvivalCurve], unit: str = "lesson") -> str:
    """By when half of each group were proficient."""
    shown = [curve for curve in curves if curve.n]
    if not shown:
        return say("No student has begun yet")
    if len(shown) == 1:
        return capital(_half(shown[0], unit))
    return joined("; ", (joined(": ", (one.name, _half(one, unit))) for one in shown))


def _half(curve: SurvivalCurve, unit: str) -> str:
    n, half = count(curve.n, "student"), median(curve)
    if half is not None:
        return say(
            "half were proficient by {unit} {time} (n = {n})",
            unit=say(unit),
            time=f"{half:g}",
            n=n,
        )
    return say(
        "fewer than half were proficient by {unit} {time} (n = {n})",
        unit=say(unit),
        time=f"{curve.followed:g}",
        n=n,
    )


def reliability(bins: Sequence[ForecastBin]) -> str:
    """In how many groups the forecasts came true as often as they said."""
    n = sum(one.n for one in bins)
    if not n:
        return say("No forecast has been tried yet")
    agreeing = sum(one.agrees for one in bins)
    groups = count(len(bins), "group")
    behind = count(n, "forecast")
    if agreeing == len(bins):
        return say(
            "Forecasts came true as often as they said, in all of {groups} ({behind})",
            groups=groups,
            behind=behind,
        )
    return say(
        "Forecasts came true as often as they said in {agreeing} of {groups} ({behind})",
        agreeing=agreeing,
        groups=groups,
        behind=behind,
    )


def cohort(
    own: Sequence[tuple[Spot, float]], bands: Sequence[CohortBand], unit: str = "attempt"
) -> str:
    """Where the student stands among those who were as far."""
    if not own:
        return say("No estimate of this student yet")
    spot, value = own[-1]
    where = say("{share} on {day}", share=share(value), day=said_at(spot))
    if isinstance(spot, int | float):
        where = say(
            "{share} at {unit} {place}", share=share(value), unit=say(unit), place=said_at(spot)
        )
    band = next((one for one in reversed(bands) if place(one.at) == place(spot)), None)
    if band is None:
        return say("{where}; too few other students to compare with there", where=where)
    return say(
        "{where}, {standing} {students}",
        where=where,
        standing=_standing(value, band),
        students=count(band.n, "student"),
    )


def _standing(value: float, band: CohortBand) -> str:
    if value < band.p10:
        return say("in the lowest tenth of")
    if value < band.p25:
        return say("between the 10th and the 25th percentile of")
    if value <= band.p75:
        return say("in the middle half of")
    if value <= band.p90:
        return say("between the 75th and the 90th percentile of")
    return say("in the highest tenth of")
