"""The whole answer of a route's cost, against sums by hand."""

from __future__ import annotations

import json
import math

import pytest

from advisor.errors import BadInput, CannotAnswer, RouteFault
from advisor.routes.cost import route_cost
from advisor.routes.route_json import route_json

LAMP = """
[route]
makes = "lamp"
[[step]]
name = "take"
from = "table"
uses = { frame = 1 }
to = "bare"
[[step]]
name = "etch"
from = "bare"
uses = { wax = 2 }
fee = "1 crown"
minutes = 3
[step.outcomes]
lamp = "1 in 4"
table = { odds = "rest", gives = { scrap = 2 } }
[[step]]
name = "etch slowly"
from = "bare"
uses = { wax = 9 }
minutes = 30
[step.outcomes]
lamp = 0.5
table = "rest"
"""
BUY = {"frame": 10, "wax": 1, "Crown": 4}
SELL = {"scrap": 0.5}


@pytest.fixture
def ask(route_of):
    def price(text: str = LAMP, **question):
        question = {"buy": BUY, "sell": SELL, "money": "shell"} | question
        return route_cost("lantern", routes={"lantern": route_of(text)}, **question)

    return price


def test_mean_use_gives_visits_and_minutes(ask):
    """Etching costs 16 a try, 15 with the scrap of a failure: 4 * 16 - 3 = 61; slowly 38."""
    fast = ask(LAMP.replace("uses = { wax = 9 }", "uses = { wax = 90 }"))
    assert fast.mean == pytest.approx(61, rel=1e-12)
    assert {item: use.mean for item, use in fast.use.items()} == {
        "frame": pytest.approx(4),
        "wax": pytest.approx(8),
        "crown": pytest.approx(4),
    }
    assert fast.use["wax"].mean_cost == pytest.approx(8)
    assert fast.gives["scrap"].mean == pytest.approx(6)
    assert fast.gives["scrap"].unit_price == 0.5
    assert fast.visits == {
        "table": pytest.approx(4),
        "bare": pytest.approx(4),
        "lamp": pytest.approx(1),
    }
    assert fast.minutes.mean == pytest.approx(12)
    slow = ask()
    assert slow.mean == pytest.approx(2 * 19, rel=1e-12)
    assert slow.choices["bare"].step == "etch slowly"
    assert slow.choices["bare"].cost_to_go == pytest.approx(28)


def test_the_mean_is_the_sum_of_its_parts(ask):
    cost = ask()
    spent = sum(use.mean_cost for use in cost.use.values())
    earned = sum(give.mean * (give.unit_price or 0) for give in cost.gives.values())
    assert cost.mean == pytest.approx(spent - earned, rel=1e-12)


def test_the_proof_holds_the_mean(ask):
    cost = ask()
    assert cost.lower <= cost.mean * (1 + 1e-12)
    assert cost.upper >= cost.mean * (1 - 1e-12)
    assert cost.upper - cost.lower < 1e-9 * cost.mean


def test_time_has_its_price(ask):
    cost = ask(hour_value=60)
    assert cost.choices["bare"].step == "etch"
    assert cost.mean == pytest.approx(61 + 12, rel=1e-12)


def test_pieces_add_up(ask):
    one, ten = ask(), ask(pieces=10)
    assert ten.mean == pytest.approx(10 * one.mean)
    assert ten.law.sd == pytest.approx(math.sqrt(10) * one.law.sd)
    assert ten.use["frame"].mean == pytest.approx(20)
    assert ten.visits["bare"] == pytest.approx(20)
    assert (ten.lower, ten.upper) == pytest.approx((10 * one.lower, 10 * one.upper))
    assert ten.choices == one.choices


def test_the_chance_to_stay_within_a_budget(ask):
    """Each slow try costs 19 and works every other time."""
    assert ask(budget=18.99).chance_within == pytest.approx(0, abs=1e-9)
    assert ask(budget=19).chance_within == pytest.approx(0.5, abs=1e-9)
    assert ask(budget=60).chance_within == pytest.approx(0.875, abs=1e-9)
    assert ask().chance_within is None


def test_prices_move_the_mean_by_the_units_bought(ask):
    cost = ask()
    for item, units in ((item, use.mean) for item, use in cost.use.items()):
        dearer = {key: price + 1e-3 * (key.lower() == item) for key, price in BUY.items()}
        assert (ask(buy=dearer).mean - cost.mean) / 1e-3 == pytest.approx(units, rel=1e-6)


def test_for_sale_the_cost_is_minus_the_profit(ask):
    cost = ask(goal="sale", sell=SELL | {"lamp": 100})
    assert cost.mean == pytest.approx(38 - 100)
    assert cost.choices["lamp"].action == "sell out"
    assert cost.gives["lamp"].mean == pytest.approx(1)
    hopeless = ask(goal="sale", sell=SELL | {"lamp": 5})
    assert hopeless.mean == 0
    assert hopeless.choices["table"].action == "stop"


def test_half_made_pieces_are_bought_and_sold(ask):
    text = LAMP + '[market]\nbare = "bare frame"\n'
    cost = ask(text, buy=BUY | {"bare frame": 7})
    assert cost.choices["table"].action == "buy in"
    assert cost.choices["table"].step == "bare"
    assert cost.mean == pytest.approx(38 - 2 * 3)
    assert ask(text).choices["table"].action == "step"


def test_what_comes_back_without_a_price_counts_nothing_and_is_told(ask):
    text = LAMP.replace("gives = { scrap = 2 }", "gives = { scrap = 2, ash = 1 }")
    cost = ask(text.replace("wax = 9", "wax = 90"), sell={})
    assert cost.mean == pytest.approx(64)
    assert cost.gives["scrap"].unit_price is None
    assert any("no selling price for 'ash'" in each for each in cost.cautions)
    assert any("no selling price for 'scrap'" in each for each in cost.cautions)


def test_stages_that_nothing_leads_to_are_told(ask):
    more = '[[step]]\nname = "mend"\nfrom = "heap"\nuses = { wax = 1 }\nto = "table"\n'
    cost = ask(LAMP + more)
    assert "nothing leads to 'heap'" in cost.cautions
    assert "heap" not in cost.choices


def test_a_loop_without_end_and_a_stage_without_a_way_name_file_and_line(ask):
    stuck = LAMP + '[[step]]\nname = "turn"\nfrom = "bare"\nto = "heap"\nuses = { wax = 1 }\n'
    stuck += '[[step]]\nname = "round"\nfrom = "heap"\nto = "heap"\nuses = { wax = 1 }\n'
    with pytest.raises(RouteFault, match="the piece cannot be reached") as caught:
        ask(stuck)
    assert caught.value.file.endswith("lantern.toml")
    assert (caught.value.stage, caught.value.line) == (
        "heap",
        stuck.split("\n").index('from = "heap"') + 1,
    )
    free = LAMP + '[[step]]\nname = "turn"\nfrom = "bare"\nto = "bare"\n'
    with pytest.raises(RouteFault, match="for ever at no cost") as caught:
        ask(free)
    assert caught.value.line == free.split("\n").index('name = "turn"')


def test_a_loop_that_earns_for_ever_is_refused(ask):
    text = LAMP + '[market]\nbare = "bare frame"\n'
    with pytest.raises(RouteFault, match="earns without limit") as caught:
        ask(text, sell=SELL | {"bare frame": 11})
    assert caught.value.line is not None


@pytest.mark.parametrize(
    ("question", "kind", "said"),
    [
        ({"goal": "lend"}, BadInput, "the goal is 'lend'; it must be one of keep, sale"),
        ({"pieces": 0}, BadInput, "0 pieces are asked for"),
        ({"budget": math.nan}, BadInput, "the budget is nan"),
        ({"buy": {"frame": -1}}, BadInput, "item 'frame': the price is -1"),
        ({"buy": {"frame": math.inf}}, BadInput, "the price is inf"),
        ({"sell": {"scrap": math.nan}}, BadInput, "item 'scrap': the price is nan"),
        ({"buy": {}}, CannotAnswer, "no buying price for 'frame', 'wax', 'crown'; quote each"),
        ({"goal": "sale"}, CannotAnswer, "no selling price for 'lamp'"),
    ],
)
def test_questions_that_cannot_be_answered(ask, question, kind, said):
    with pytest.raises(kind) as caught:
        ask(**question)
    assert said in str(caught.value)


def test_an_unknown_route_names_the_nearest(route_of):
    with pytest.raises(CannotAnswer, match=r'no route .lantrn.; did you mean "lantern"\?'):
        route_cost("lantrn", routes={"lantern": route_of(LAMP)}, buy=BUY, sell={}, money="shell")


KEYS = {
    "": "route makes for money as_of cost minutes use gives choices visits proof",
    "cost": "mean sd quantiles shortfall_95",
    "minutes": "mean quantiles",
    "proof": "lower upper stages mass_left",
}


def test_the_json_has_the_keys_of_the_contract(ask):
    answer = route_json(ask(), as_of="2026-09-01T00:00:00Z")
    for place, keys in KEYS.items():
        assert set(keys.split()) <= set(answer[place] if place else answer)
    assert set(answer["cost"]["quantiles"]) == {"0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99"}
    assert {"mean", "sd", "quantiles", "unit_price", "mean_cost"} <= set(answer["use"]["wax"])
    assert set(answer["choices"]["bare"]) == {"action", "step", "cost_to_go"}
    assert "within" not in answer
    within = route_json(ask(budget=20), as_of="x")["within"]
    assert within["budget"] == 20
    assert within["chance"] == pytest.approx(0.5)


def test_the_json_is_plain_and_holds_no_infinity(ask):
    endless = LAMP.replace('lamp = "1 in 4"', "lamp = { seen = [0, 4] }").replace(
        "wax = 9", "wax = 999"
    )
    endless = endless.replace("lamp = 0.5", "lamp = 0.001")
    answer = route_json(ask(endless), as_of="x")
    assert answer["cost"]["mean"] is None
    assert answer["cost"]["sd"] is None
    assert answer["cost"]["shortfall_95"] is None
    assert answer["cautions"]
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer
