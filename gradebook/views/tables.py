"""A chart as its own page and as a file of its numbers."""

from flask import Response, render_template

from gradebook.charts.chart import Chart
from gradebook.exchange.table import write_table


def explore(chart: Chart, trail: list[tuple[str, str]], csv_url: str) -> str:
    """The page that draws one chart large; `trail` leads back to where it stands small."""
    return render_template(
        "explore/page.html",
        title=chart.title,
        figure_json=chart.figure(),
        columns=chart.numbers.columns,
        rows=chart.numbers.rows,
        csv_url=csv_url,
        trail=trail,
        why=chart.why,
        n=chart.n,
    )


def csv(chart: Chart) -> Response:
    """The numbers of a chart as a CSV file named after it."""
    text = write_table(chart.numbers.columns, chart.numbers.rows)
    answer = Response(text, mimetype="text/csv")
    answer.headers["Content-Disposition"] = f"attachment; filename={chart.key}.csv"
    return answer
