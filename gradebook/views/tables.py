"""A chart as its own page and as a file of its numbers."""

from flask import Response, render_template

from gradebook.charts.chart import Chart
from gradebook.exchange.table import write_table
from gradebook.formats import NUMBER


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
    rows = [[name, *map(_number, cells)] for name, *cells in chart.numbers.rows]
    text = write_table(chart.numbers.columns, rows)
    answer = Response(text, mimetype="text/csv")
    answer.headers["Content-Disposition"] = f"attachment; filename={chart.key}.csv"
    return answer


def _number(cell: str) -> str | float:
    """A cell with a sign as the number it is, which no spreadsheet takes for a formula."""
    return float(cell) if cell.startswith(("+", "-")) and NUMBER.fullmatch(cell) else cell
