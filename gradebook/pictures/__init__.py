"""Small pictures of grades as SVG: plain values in, `Markup` out.

Each picture says in words what it shows (`role="img"` with a label), takes its colours from
the style sheet by class, and has a form for too little to show.
"""

from gradebook.pictures.arcs import arc_dial, arc_glyph, check_glyph
from gradebook.pictures.bands import proportion_bar, readiness_dots
from gradebook.pictures.evidence import proof_chart, run_chart
from gradebook.pictures.progress import cohort_strip, trend_band
from gradebook.pictures.school import caterpillar, reliability, survival_steps
from gradebook.pictures.trends import trend_strip

__all__ = [
    "arc_dial",
    "arc_glyph",
    "caterpillar",
    "check_glyph",
    "cohort_strip",
    "proof_chart",
    "proportion_bar",
    "readiness_dots",
    "reliability",
    "run_chart",
    "survival_steps",
    "trend_band",
    "trend_strip",
]
