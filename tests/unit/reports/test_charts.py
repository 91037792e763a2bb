"""Charts: drawn from the answer's numbers, and valid for plotly."""

from __future__ import annotations

import math

import pytest

from reports.cost_chart import coarse_bars, cost_chart
from reports.craft_charts import PARTS_DRAWN, break_even_chart, parts_chart, routes_chart
from reports.item_view import item_view
from reports.ladder_chart import ladder_chart
from reports.pages_data import CostPart, ItemPage, LadderStep, QuoteDot
from reports.piece_view import piece_view
from reports.price_chart import price_chart


def with_plain_colours(value):
    if isinstance(value, str):
        return "#123456" if value.startswith("@") else value
    if isinstance(value, (list, tuple)):
        return [with_plain_colours(each) for each in value]
    if isinstance(value, dict):
        return {key: with_plain_colours(each) for key, each in value.items()}
    return value


def test_every_figure_is_one_that_plotly_knows(report):
    """plotly's own schema refuses an unknown key or a wrong value."""
    from plotly.graph_objects import Figure

    charts = [chart for page in report.pieces for chart in piece_view(page, report).charts]
    charts += [chart for page in report.items for chart in item_view(page, report).charts]
    assert len(charts) == 25
    for chart in charts:
        plain = with_plain_colours(chart.figure)
        assert len(Figure(plain).data) == len(plain["data"]) > 0
        with pytest.raises(ValueError, match="mis-spelled"):
            Figure({**plain, "data": [{**plain["data"][0], "mis-spelled": 1}]})


def geometric_law(odds, *, cost, cells):
    """Costs and chances of trying until it works, each try at one cost."""
    return (
        [cost * tries for tries in range(1, cells + 1)],
        [odds * (1 - odds) ** (tries - 1) for tries in range(1, cells + 1)],
    )


def test_coarse_bars_keep_the_chance_and_follow_the_law():
    """Closed form: 1 - (1 - p)^n of all evenings need at most n tries."""
    costs, chances = geometric_law(0.02, cost=5.0, cells=2000)
    bars, beyond = coarse_bars(costs, chances)
    assert math.isclose(sum(bar[2] for bar in bars) + beyond, 1.0, rel_tol=1e-9)
    assert 0 < beyond < 0.0075
    reached = 0.0
    for _, right, chance in bars:
        reached += chance
        tries = right / 5.0 - 0.5
        assert math.isclose(reached, 1 - 0.98**tries, abs_tol=2e-4)


def test_coarse_bars_of_a_coarse_lattice_are_not_ragged():
    """A falling law stays falling, whatever the width of a bar is to that of a cell."""
    for pitch in (1.0, 3.0, 7.3):
        bars, _ = coarse_bars(*geometric_law(0.01, cost=pitch, cells=3000))
        heights = [chance for *_, chance in bars[1:]]
        assert heights == sorted(heights, reverse=True)


def test_a_certain_cost_is_one_bar():
    bars, beyond = coarse_bars([10.0, 12.0, 14.0], [0.0, 1.0, 0.0])
    assert beyond == 0.0
    assert [(left < 12.0 < right, chance) for left, right, chance in bars] == [(True, 1.0)]


def test_cost_chart_stripes_what_is_dearer_than_buying(report):
    page = report.pieces[0]
    figure = cost_chart(page.craft, page.routes[0].cost).figure
    bars, price = figure["data"][0], page.craft["buy"]["level"]
    for middle, stripes in zip(bars["x"], bars["marker"]["pattern"]["shape"], strict=True):
        assert (stripes == "/") == (middle > price)
    marks = [shape["x0"] for shape in figure["layout"]["shapes"]]
    make = page.craft["make"]
    assert marks == [make["mean"], price, make["quantiles"]["0.95"]]


def test_parts_add_up_to_the_mean(report):
    parts = report.pieces[0].routes[0].parts
    drawn = parts_chart(parts, "shell").figure["data"][0]["x"]
    assert math.isclose(sum(drawn), sum(part.mean_cost for part in parts))
    assert min(drawn) < 0  # what comes back points the other way


def test_break_even_marks_beyond_the_edge_become_arrows(report):
    craft = report.pieces[0].craft
    chart = break_even_chart(craft)
    marks = chart.figure["data"][1]
    changes = sorted((each["change"] for each in craft["break_even"]), key=abs)
    assert marks["x"] == [min(change, 1.2) for change in changes]
    assert marks["marker"]["symbol"] == ["circle"] * 5 + ["triangle-right"]
    assert chart.tables[0].rows[-1] == ("clear flux", "7.4", "21.7", "+193 %")


def test_no_flip_and_no_route_draw_nothing(report):
    craft = report.pieces[2].craft
    assert break_even_chart(craft) is None
    assert routes_chart(craft) is None
    assert break_even_chart({**craft, "break_even": [{"item": "wax", "change": None}]}) is None


def test_a_screened_quote_far_away_is_drawn_at_the_edge(report):
    page = report.items[0]
    wild = QuoteDot(page.quotes[0].at, 1900.0, "ask", 10, "Odo Reed", "wrong digit")
    figure = price_chart(
        ItemPage(page.prices, (wild,), page.levels), money="shell", as_of=report.as_of
    ).figure
    low, high = figure["layout"]["yaxis"]["range"]
    cross = next(trace for trace in figure["data"] if trace.get("name") == "screened out")
    assert low < cross["y"][0] < high < 5
    assert "1900 asked" in cross["text"][0]


def test_a_season_of_quotes_is_thinned_but_keeps_its_reach(report):
    page = report.items[0]
    many = tuple(
        QuoteDot(f"2026-10-{1 + at // 330:02}T{at % 24:02}:00:00Z", 2 + 0.001 * (at % 700), "ask")
        for at in sorted(range(9000), key=lambda each: (each // 330, each % 24))
    )
    view = item_view(ItemPage(page.prices, many), report)
    asked = next(t for t in view.charts[0].figure["data"] if t.get("name") == "asked")
    assert len(asked["x"]) < 5000
    assert math.isclose(min(asked["y"]), 2.0, abs_tol=0.02)
    assert math.isclose(max(asked["y"]), 2.699, abs_tol=0.02)
    assert (len(view.quotes.rows), view.quotes_in_all) == (2000, 9000)
    newest = max(quote.at for quote in many)
    assert view.quotes.rows[0][0] == f"{newest[:10]} {newest[11:16]}"


def test_ladder_counts_units_up():
    ladder = (LadderStep(10, 2.0, "Wenna"), LadderStep(5, 2.5), LadderStep(20, 3.0))
    chart = ladder_chart(ladder, item="binding wax", money="shell")
    line = chart.figure["data"][0]
    assert (line["x"], line["y"]) == ([0, 10, 15, 35], [2.0, 2.5, 3.0, 3.0])
    assert chart.finding == "35 units stand for sale, from 2 to 3 shell"
    rows = [
        (step.value, step.qty, so_far, step.trader)
        for step, so_far in zip(ladder, (10, 15, 35), strict=True)
    ]
    assert list(chart.tables[0].rows) == rows


def test_units_that_nobody_quoted_are_told_apart():
    ladder = (LadderStep(10, 2.0, "Wenna"), LadderStep(40, 2.5, guessed=True))
    chart = ladder_chart(ladder, item="binding wax", money="shell")
    assert chart.finding.startswith("about 50 units stand for sale")
    assert [row[-1] for row in chart.tables[0].rows] == ["quoted", "guessed"]


def test_a_ladder_of_one_price_is_a_table_and_no_chart(report):
    flat = (LadderStep(9, 2.6, "Wenna"), LadderStep(4, 2.6))
    view = item_view(ItemPage(report.items[0].prices, ladder=flat), report)
    assert [chart.name for chart in view.charts] == ["price"]
    assert [row[2] for row in view.ladder.rows] == [9, 13]
    assert item_view(ItemPage(report.items[0].prices), report).ladder is None


def test_rows_with_the_same_label_stay_apart():
    """plotly would draw two parts of one item on top of each other if rows went by name."""
    parts = [CostPart("wax", 1.0, 2.0, 2.0, 0.5), CostPart("wax", 1.0, 2.0, 2.0, 0.5)]
    assert parts_chart(parts, "shell").figure["data"][0]["y"] == [0, 1]


def test_legend_names_what_is_drawn_and_no_more(report):
    page = report.items[0]
    marks = [mark for mark, _ in item_view(page, report).charts[0].legend]
    assert marks == ["ask", "bid", "deal", "screened", "level", "ahead", "earlier"]
    bare = ItemPage({**page.prices, "forecast": []}, page.quotes[:1])
    assert len(item_view(bare, report).charts[0].legend) == 1


def test_parts_too_small_to_draw_are_said_to_belong_to_the_mean():
    parts = [CostPart(f"supply {each}", 1, 1, 1 + each, None) for each in range(PARTS_DRAWN)]
    whole = "All bars together are the mean cost."
    assert whole in parts_chart(parts, "shell").reading
    more = parts_chart([*parts, CostPart("dust", 1, 0.1, 0.1, None)], "shell").reading
    assert "together, and the 1 smallest that are in the table only, are the mean cost." in more
