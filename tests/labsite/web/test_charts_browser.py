"""Plotly draws under the strict policy with the two named styles, and in the product's colours."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser
SCRIPT = '<script defer src="{% static "vendor/plotly/plotly.min.js" %}"></script>'
DRAW = """async () => {
  const { drawChart } = await import("/static/labsite/js/plot.js");
  await drawChart(document.querySelector("[data-chart]"), {
    data: [{ x: [1, 2, 3], y: [1, 3, 2], mode: "markers", marker: { color: "token:piece" } },
           { x: [1, 2, 3], y: [2, 2, 2], mode: "lines" }],
    layout: { height: 300, xaxis: { title: { text: "day" } } } });
}"""


def test_chart_page_draws_without_a_violation(bench):
    page = bench.open("<div data-chart></div>", scripts=SCRIPT, charts=True)
    page.evaluate(
        "() => { window.broken = []; document.addEventListener('securitypolicyviolation',"
        " (event) => window.broken.push(event.violatedDirective)); }"
    )
    page.wait_for_function("window.Plotly")
    page.evaluate(DRAW)
    page.locator("[data-chart]").hover()
    assert page.locator("[data-chart] .scatterlayer .point").count() == 3
    assert page.evaluate("window.broken") == []


def test_tokens_become_colours_of_the_theme(bench):
    page = bench.open()
    light = bench.call(page, "plot.js", "token", "piece")
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    dark = bench.call(page, "plot.js", "token", "piece")
    assert light == "rgb(107, 42, 115)"
    assert dark == "rgb(240, 205, 246)"
