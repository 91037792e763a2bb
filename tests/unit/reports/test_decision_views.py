"""What the pages of decisions say, and that every figure is one that plotly knows."""

from __future__ import annotations

import dataclasses
import re

import pytest

from reports.decision_data import (
    AskedAnswer,
    Change,
    Decisions,
    LossCurve,
    ReplayDay,
    ReplayPage,
    ServicePage,
)
from reports.overview_tables import changes_table
from reports.page_names import name_pages
from reports.pages import render_pages
from reports.replay_view import replay_view
from reports.sell_view import sell_view
from reports.service_view import service_view
from reports.stock_view import stock_headline, stock_view

REPLAY = {
    "from": "2026-10-03T00:00:00Z",
    "to": "2026-10-30T23:59:59Z",
    "money": "shell",
    "forecast": [
        {
            "days": days,
            "n": 90,
            "inside_80": 0.78,
            "inside_95": 0.93,
            "error": 0.03 * days,
            "error_last_quote": 0.04 * days,
        }
        for days in (1, 3, 7)
    ]
    + [
        {
            "days": 14,
            "n": 0,
            "inside_80": None,
            "inside_95": None,
            "error": None,
            "error_last_quote": None,
        }
    ],
    "stock": {"paid": 1440.0, "paid_plain": 1521.0, "paid_hindsight": 1318.0},
    "craft": {
        "followed": 9100.0,
        "plain": 9750.0,
        "hindsight": 8990.0,
        "days_right": 51,
        "days": 56,
    },
    "sell": {"followed": 12_010.0, "plain": 11_400.0, "hindsight": 12_900.0},
}
SELL = {
    "piece": "storm lantern",
    "count": 2,
    "within": 3,
    "money": "shell",
    "level": 520.0,
    "ask_now": 560.0,
    "sell_at_once": 0,
    "schedule": [
        {
            "day": day,
            "left": 2 - day,
            "ask": 560.0 - 9 * day,
            "sold_by_then": 0.6 * (day + 1),
            "asks": [570.0 - 9 * day, 560.0 - 9 * day],
        }
        for day in range(3)
    ],
    "expected_proceeds": 1011.0,
    "floor": 530.0,
    "verdict": "list now",
    "against": [],
    "compare": [],
    "post": None,
    "reasons": [],
    "cautions": [],
}
SERVICE = {
    "route": "by <b>hand</b>",
    "makes": "storm lantern",
    "orders": 1,
    "money": "shell",
    "cost": {"mean": 480.0, "quantiles": {"0.95": 1300.0}},
    "terms": [{"kind": "fixed", "floor": None, "price": None, "loss_chance_one": None}],
    "by_orders": [{"orders": 1, "price": None, "floor": None}],
    "going_rate": None,
    "verdict": "decline",
    "post": None,
    "reasons": [],
    "cautions": [],
}


def asked(answer):
    return AskedAnswer(answer, "makeworth so and so")


def replayed():
    days = (ReplayDay("2026-10-03", 5.0, 9.0), ReplayDay("2026-10-04", 4.0, 30.0))
    return ReplayPage(asked(REPLAY), days)


def with_plain_colours(value):
    if isinstance(value, str):
        return "#123456" if value.startswith("@") else value
    if isinstance(value, (list, tuple)):
        return [with_plain_colours(each) for each in value]
    if isinstance(value, dict):
        return {key: with_plain_colours(each) for key, each in value.items()}
    return value


def stock(*, buy_now, reserve=()):
    item = {
        "item": "wax",
        "use": {"mean": 50.0, "quantiles": {"0.95": 150}},
        "on_hand": 0,
        "buy_now": buy_now,
        "spend_now": 2.0 * buy_now,
        "pay_at_most": 2.1,
        "reserve": reserve,
        "expected_cost": 100.0,
        "plain_cost": 110.0,
        "chance_short": 0.6,
        "lots": [],
        "curve": [
            {"qty": qty, "spend_now": 2.0 * qty, "expected_cost": 100.0, "chance_short": 0.6}
            for qty in sorted({0, buy_now, 50})
        ],
        "post": None,
    }
    return {
        "route": "etched",
        "pieces": 1,
        "also": [],
        "money": "shell",
        "within": 7,
        "items": [item],
        "spend_now": 2.0 * buy_now,
        "expected_cost": 100.0,
        "plain_cost": 110.0,
        "chance_any_short": 0.6,
        "reasons": [],
        "cautions": [],
    }


LOSSES = (LossCurve(1, (400.0, 500.0, 600.0), (0.5, 0.4, 0.3)),)


@pytest.mark.parametrize(
    ("view", "charts"),
    [
        (lambda: replay_view(replayed()), 6),
        (lambda: sell_view(asked(SELL)), 2),
        (lambda: service_view(ServicePage(asked(SERVICE), LOSSES)), 1),
        (lambda: stock_view(asked(stock(buy_now=20, reserve=[{"day": 1, "price": 2.2}]))), 2),
    ],
)
def test_figures_are_such_as_plotly_knows_and_each_has_its_table(view, charts):
    from plotly.graph_objects import Figure

    drawn = view().charts
    assert len(drawn) == charts
    assert len({chart.name for chart in drawn}) == charts
    for chart in drawn:
        plain = with_plain_colours(chart.figure)
        assert len(Figure(plain).data) == len(plain["data"]) > 0
        assert chart.finding
        assert chart.reading
        assert all(table.rows for table in chart.tables)


def test_replay_draws_the_three_ways_and_leaves_out_what_was_never_settled():
    charts = {chart.name: chart for chart in replay_view(replayed()).charts}
    assert charts["craft"].figure["data"][0]["x"] == [9750.0, 9100.0, 8990.0]
    assert charts["stock"].figure["data"][0]["x"] == [1521.0, 1440.0, 1318.0]
    assert charts["sell"].figure["data"][0]["x"] == [11_400.0, 12_010.0, 12_900.0]
    assert charts["won"].figure["data"][0]["y"] == [5.0, 4.0]
    assert charts["inside"].figure["data"][0]["x"] == [1, 3, 7]
    assert charts["inside"].figure["data"][0]["y"] == [78.0] * 3
    assert charts["sell"].finding == "Selling as advised brought 12010 shell, the plain habit 11400"


def test_what_to_do_is_said_in_one_sentence():
    assert stock_headline(stock(buy_now=20)) == "Buy today: 20 wax, for 40 shell in all."
    waiting = stock(buy_now=0, reserve=[{"day": 1, "price": 2.2}])
    assert stock_headline(waiting).startswith("Buy nothing today at these prices")
    assert stock_headline(stock(buy_now=0)) == "Nothing needs to be bought ahead."
    headline = service_view(ServicePage(asked(SERVICE))).headline
    assert headline == "Decline: no price pays for the work."
    sold = sell_view(asked({**SELL, "verdict": "sell at once"})).headline
    assert sold == "Sell at once to those who bid: 1011 shell in all."


def test_pages_of_decisions_are_named_escaped_and_linked(report):
    route = 'by "<b>hand</b>"'
    decisions = Decisions(
        stocks={route: asked({**stock(buy_now=20), "route": route})},
        services={route: ServicePage(asked({**SERVICE, "route": route}))},
        sells={"storm lantern": asked(SELL)},
        replay=replayed(),
        changes=[Change("storm lantern", "piece", 1.0, 2.0, "making it costs <i>more</i>")],
        since=report.as_of,
        unanswered=[("supplies for x", "no <price>")],
    )
    full = dataclasses.replace(report, decisions=decisions)
    names, pages = name_pages(full), render_pages(full)
    assert {"replay.html", "sell-storm-lantern.html", names["stock"][route]} <= set(pages)
    assert re.fullmatch(r"stock-[a-z0-9-]+\.html", names["stock"][route])
    for text in pages.values():
        assert "<b>hand" not in text
        assert "<i>more" not in text
    assert "supplies for x: no &lt;price&gt;." in pages["index.html"]
    assert 'href="replay.html"' in pages["index.html"]
    assert f'href="{names["service"][route]}"' in pages["index.html"]


def test_nothing_new_is_no_table(report):
    assert changes_table(report) is None


def test_what_rounding_leaves_is_neither_won_nor_lost():
    page = dataclasses.replace(replayed(), days=[ReplayDay("2026-11-02", -1.8e-14, 3.0)])
    charts = {chart.name: chart for chart in replay_view(page).charts}
    assert charts["won"].finding == (
        "The advice came to the same as the plain habit; knowing what came would have won 3"
    )
