"""The drawing library: served once, packed, to whoever is signed in; and the page around it."""

import gzip
import re
from hashlib import sha256
from importlib.resources import files

import pytest
from flask import get_template_attribute, render_template

from gradebook.charts.chart import Chart
from gradebook.pictures import figures, trend_band
from gradebook.pictures.numbers import Numbers
from gradebook.security.headers import POLICY
from tests.cast import TestSchool
from tests.pictures.samples import trend

LIBRARY = (files("plotly") / "package_data" / "plotly.min.js").read_bytes()
ADDRESS = f"/vendor/plotly-{sha256(LIBRARY).hexdigest()[:16]}.js"


def script(school: TestSchool, **headers: str):
    sent = {name.replace("_", "-"): value for name, value in headers.items()}
    return school.visitor("ana").client.get(ADDRESS, headers=sent)


def explore(school: TestSchool, values):
    """The page of a chart, standing where the errors of the school stand."""
    school.app.view_functions["watch.school"] = lambda: render_template(
        "explore/page.html",
        title="Meets the standard",
        figure_json=figures.trend_figure(values),
        columns=("Date", "Chance"),
        rows=(("2 Mar 2026", "30 %"),),
        csv_url="/numbers.csv",
        trail=[("School watch", "/school")],
        why="How it was worked out.",
        n="3 grades",
    )
    return school.visitor("cleo").client.get("/school")


def test_the_library_is_the_installed_one_packed(school: TestSchool) -> None:
    answer = script(school, Accept_Encoding="gzip, br")
    assert answer.status_code == 200
    assert answer.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(answer.data) == LIBRARY
    assert len(answer.data) < len(LIBRARY) / 3


def test_whoever_cannot_unpack_gets_it_plain(school: TestSchool) -> None:
    answer = script(school, Accept_Encoding="identity")
    assert "Content-Encoding" not in answer.headers
    assert answer.data == LIBRARY


@pytest.mark.parametrize("encoding", ["gzip", "identity"])
def test_a_browser_keeps_it_and_knows_it_is_a_script(school: TestSchool, encoding: str) -> None:
    headers = script(school, Accept_Encoding=encoding).headers
    assert headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "Accept-Encoding" in headers["Vary"]


def test_what_has_not_changed_is_not_sent_again(school: TestSchool) -> None:
    tags = {
        encoding: script(school, Accept_Encoding=encoding).headers["ETag"]
        for encoding in ("gzip", "identity")
    }
    assert tags["gzip"] != tags["identity"]
    again = script(school, Accept_Encoding="gzip", If_None_Match=tags["gzip"])
    assert again.status_code == 304
    assert again.data == b""


def test_another_version_has_no_address(school: TestSchool) -> None:
    client = school.visitor("ana").client
    assert client.get("/vendor/plotly-0000000000000000.js").status_code == 404


def test_the_page_of_a_chart_allows_one_style_element_by_a_fresh_nonce(
    school: TestSchool,
) -> None:
    nonces = set()
    for _ in range(2):
        answer = explore(school, trend(3))
        policy = answer.headers["Content-Security-Policy"]
        found = re.search(r"style-src 'self' 'nonce-([\w-]{20,})'", policy)
        assert found is not None
        assert f'<style id="plotly.js-style-global" nonce="{found[1]}"></style>' in answer.text
        assert policy.replace(f" 'nonce-{found[1]}'", "") == POLICY
        nonces.add(found[1])
    assert len(nonces) == 2


def test_every_other_page_is_as_strict_as_before(school: TestSchool) -> None:
    explore(school, trend(3))
    answer = school.visitor("cleo").client.get("/students")
    assert answer.headers["Content-Security-Policy"] == POLICY


def test_the_page_of_a_chart_holds_figure_finding_and_numbers(school: TestSchool) -> None:
    text = explore(school, trend(3)).text
    assert "<h1>Meets the standard</h1>" in text
    assert f'data-library="{ADDRESS}"' in text
    assert figures.trend_figure(trend(3)) in text
    assert "The chart needs JavaScript; the table below holds the same numbers." in text
    assert re.search(
        r'<th scope="row" class="keep">2 Mar 2026</th>\s*<td class="number keep">30 %</td>',
        text,
    )
    assert '<a href="/numbers.csv">Numbers as CSV</a>' in text


def drawn(school: TestSchool) -> str:
    shown = Chart(
        "trend",
        "65 % & rising",
        "3 grades",
        trend_band(trend(3)),
        Numbers(("Date", "Chance"), (("2 Mar 2026", "30 %"),)),
        lambda: figures.trend_figure(trend(3)),
        why="How it was worked out.",
    )
    with school.app.test_request_context():
        chart = get_template_attribute("components/charts.html", "chart")
        return chart(shown, "/n.csv", "/explore/trend")


def test_a_chart_has_its_finding_its_picture_n_and_its_numbers(school: TestSchool) -> None:
    text = drawn(school)
    assert "<h3>65 % &amp; rising</h3>" in text
    assert str(trend_band(trend(3))) in text
    assert "n = 3 grades" in text
    assert "<summary>The numbers</summary>" in text
    assert "2 Mar 2026</th>" in text
    assert "How it was worked out." in text


def test_a_chart_links_to_its_numbers_and_its_own_page(school: TestSchool) -> None:
    text = drawn(school)
    assert '<a href="/n.csv">Numbers as CSV' in text
    assert '<a href="/explore/trend">Explore' in text
