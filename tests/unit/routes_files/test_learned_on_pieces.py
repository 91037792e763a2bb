"""Unsure odds of a step that is taken at many pieces: one chance, wherever it is taken.

A wash works with chance p and then draws one of two equal affixes, of which one is
wanted; else the frame is lost. From a frame on the table V = 1 + (p/2) V + (1-p)(1 + V),
so V = 4/p - 2, and with the first frame 4/p - 1. For p ~ Beta(a, b) the mean of 1/p is
(a + b - 1) / (a - 1).
"""

from __future__ import annotations

import pytest

from advisor.routes.cost import route_cost
from advisor.routes.read import read_route

POOL = """
[pool]
slots = { etched = 1 }
[pool.count]
all = { 1 = 1 }
[[base]]
item = "frame"
[[affix]]
name = "flame"
kind = "etched"
weight = 1
[[affix]]
name = "ward"
kind = "etched"
weight = 1
"""
ROUTE = """
[route]
makes = "lamp"
pool = "lantern"
base = "frame"
[finish]
all = ["flame"]
[[step]]
name = "take"
from = "table"
uses = { frame = 1 }
put = []
[[step]]
name = "wash"
when = {}
uses = { dye = 1 }
[step.outcomes]
piece = { ODDS, effect = { redraw = "all" } }
table = "rest"
"""


@pytest.fixture
def ask(tmp_path):
    (tmp_path / "pools").mkdir()
    (tmp_path / "routes").mkdir()
    (tmp_path / "pools" / "lantern.toml").write_text(POOL)

    def price(odds: str, **question):
        path = tmp_path / "routes" / "lamp.toml"
        path.write_text(ROUTE.replace("ODDS", odds))
        routes = {"lamp": read_route(path)}
        prices = {"frame": 1.0, "dye": 1.0}
        return route_cost("lamp", routes=routes, buy=prices, sell={}, money="shell", **question)

    return price


def test_stated_odds_are_exact(ask):
    assert ask("odds = 0.5").mean == pytest.approx(7, rel=1e-12)


def test_tries_of_the_file(ask):
    assert ask("seen = [7, 20]").mean == pytest.approx(4 * 21 / 7 - 1, rel=1e-12)


def test_tries_of_the_log(ask):
    tries = {"lamp": {("wash", "piece"): 7, ("wash", "table"): 13}}
    cost = ask("odds = 0.5", tries=tries, trust=10)
    assert cost.mean == pytest.approx(4 * 29 / 11 - 1, rel=1e-12)
    assert cost.odds_sd > 0
