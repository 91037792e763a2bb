"""What a page says in one sentence."""

from __future__ import annotations

import pytest

from reports.findings import (
    bad_night,
    break_even_finding,
    cost_finding,
    craft_headline,
    price_finding,
)


def craft(**changes):
    answer = {
        "for": "keep",
        "money": "shell",
        "verdict": "make",
        "make": {"mean": 171.0, "quantiles": {"0.5": 120.0, "0.95": 486.0}, "shortfall_95": 560.0},
        "buy": {"level": 214.0},
        "chance_this_one_cheaper": 0.71,
        "break_even": [],
    }
    return {**answer, **changes}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "Make it: 171 shell on average, 214 to buy."),
        ({"buy": None}, "Make it: 171 shell on average, nobody is seen selling it."),
        ({"verdict": "buy"}, "Buy it: 214 shell; making costs 171 on average."),
        ({"verdict": "buy", "make": None}, "Buy it: 214 shell; no route has an answer."),
        ({"verdict": "either"}, "As good as even: 171 shell on average to make, 214 to buy."),
        (
            {"verdict": "neither", "make": None, "buy": None},
            "Neither: no route has an answer, and nobody is seen selling it.",
        ),
        (
            {"for": "sale", "make": {"mean": -43.0, "quantiles": {}}},
            "Make it to sell: it earns 43 shell on average.",
        ),
        (
            {"for": "sale", "verdict": "neither", "make": {"mean": 12.0, "quantiles": {}}},
            "Leave it: today nothing is earned with it, making one loses 12 shell on average.",
        ),
    ],
)
def test_headline(changes, said):
    assert craft_headline(craft(**changes)) == said


def test_bad_night_beside_the_mean():
    assert bad_night(craft()) == (
        "A bad night, 1 in 20, costs 486 shell or more; 560 on average of those."
    )
    assert bad_night(craft(make=None)) is None


def test_cost_finding_compares_with_buying_where_it_can():
    assert cost_finding(craft()) == "In 7 of 10 evenings making is cheaper than 214 shell"
    assert cost_finding(craft(buy=None, chance_this_one_cheaper=None)) == (
        "Half of all evenings cost at most 120 shell, 1 in 20 costs 486 or more"
    )


def test_break_even_names_the_nearest():
    flips = [
        {"item": "binding wax", "now": 2.0, "flips_at": 3.0, "change": 0.5},
        {"odds": "etch", "now": 0.025, "flips_at": 0.0225, "change": -0.1},
    ]
    said = break_even_finding(craft(break_even=flips))
    assert said == "Buying wins once the odds of etch fall to 2.2 % (-10 %)"
    assert break_even_finding(craft()) == "No single price or odds turns the answer"


def test_price_finding_with_and_without_a_level():
    ask = {"level": 2.41}
    ahead = [{"days": 7, "quantiles": {"0.5": 2.36}}]
    assert price_finding({"ask": ask, "forecast": ahead}, "shell") == (
        "One costs 2.41 shell now; in 7 days as likely above 2.36 as below"
    )
    assert price_finding({"ask": None}, "shell") == (
        "Nobody is seen asking for it: there is no ask level"
    )
