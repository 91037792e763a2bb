"""The stock answer in sentences: each number is one of the answer's own."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.purse_reasons import purse_cautions, purse_reasons
from advisor.decide.stock.stock_reasons import StockStory, stock_cautions, stock_reasons
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.decide.stock.wanted_post import WantedOffer
from advisor.figures import amount
from advisor.levels.ladders import Ladder, Rung


def advice(*, now=2.0, later=3.0, lots_of=1, leftover=0.5, days=1, need=(0.25,) * 4):
    still = SimpleNamespace(
        start_log=math.log(later),
        start_sd=0.0,
        drift=np.zeros(days),
        day_sd=np.zeros(days),
        quote_sd=0.0,
    )
    ladder = Ladder((Rung(now, 1e9, -1),), 0, now, 1e9, 0.0, lots_of)
    return weigh_supply(
        SupplyQuestion(
            "wax", NeedLaw(np.array(need)), OffersNow(ladder), still, days=days, leftover=leftover
        )
    )


def story(name="binding wax", *, offer=None, assumed=(), stockable=True, **market):
    return StockStory(name, advice(**market), stockable, offer, tuple(assumed))


def reasons(*stories, days=1):
    return " ".join(stock_reasons(stories, money="shell", days=days))


def test_numbers_are_those_of_the_answer():
    told = story()
    said = reasons(told)
    assert f"{amount(told.advice.expected_cost)} shell on average this way" in said
    assert f"to {amount(told.advice.plain_cost)}." in said
    assert f"{told.advice.buy_now} now at 2 shell on average" in said
    assert f"{amount(told.advice.pay_at_most)} shell at most" in said
    assert "with a chance of 25 %" in said


def test_waiting_is_said_with_the_price_to_wait_for():
    said = reasons(story(now=4.0))
    assert "none now unless at 2.625 shell or less: buy as it is needed" in said
    assert "over the next 5 days" in reasons(story(now=4.0, days=5), days=5)


def test_the_dearest_items_come_first():
    said = reasons(story("salt", later=2.1), story("frame", now=20, later=30))
    assert said.index("frame:") < said.index("salt:")


def test_enough_on_hand_and_services():
    assert "what is on hand is enough" in reasons(story(need=(1.0,)))
    assert "paid when it is used" in reasons(story(stockable=False))


def use_of_purse(**changed):
    said = {
        **{"budget": 800.0, "money": "shell", "started": [("etched", 2)], "asked": 3},
        **{"paid": 200.0, "chance_started": 0.7, "chance_all": 0.3, "lacking": 90.0},
        **{"enough_80": 1200.0},
    }
    return " ".join(purse_reasons(**(said | changed)))


def test_purse_says_what_to_start_what_to_keep_and_what_lacks():
    said = use_of_purse()
    assert "start 2 of the 3 pieces: 2 by etched" in said
    assert "chance of 70 %" in said
    assert "200 shell are best spent today; keep 600" in said
    assert "chance of 30 %; it is short by 90 shell on average, and 1200 would" in said
    assert "start all: 2 by etched, then 1 by fused." in use_of_purse(
        started=[("etched", 2), ("fused", 1)]
    )
    assert "short by" not in use_of_purse(chance_all=1.0)


def test_purse_warns_where_it_is_likely_to_run_out():
    assert purse_cautions(0.5, started=1) == []
    assert "does not see the first piece through" in purse_cautions(0.49, started=1)[0]


def test_traders_who_failed_are_told_last():
    told = StockStory(
        "wax", advice(), stockable=True, offer=None, offer_assumptions=(), trust=("x",)
    )
    assert stock_reasons([told], money="shell", days=1, purse=["first"])[0] == "first"
    assert stock_reasons([told], money="shell", days=1)[-1] == "x"


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (story(lots_of=500), "sold in lots of 500, more than any likely need (3)"),
        (story(stockable=False), "for they are services: binding wax"),
        (story(leftover=0.0), "left over of these counts nothing: binding wax"),
        (story(days=4), "as plentiful as usual"),
        (
            story(offer=WantedOffer(2.0, 10, 3, 0.5, 2.2), assumed=["one seller a day is taken"]),
            "Wanted posts, binding wax: one seller a day is taken.",
        ),
    ],
)
def test_what_to_beware_of(told, said):
    cautions = stock_cautions([told], money="shell", notes=[])
    assert any(said in each for each in cautions)
    plain = stock_cautions([story()], money="shell", notes=[])
    assert not any(said in each for each in plain)


def test_notes_first_and_once_and_the_usual_warnings_last():
    cautions = stock_cautions([story()], money="shell", notes=["old", "old"])
    assert cautions[0] == "old"
    assert cautions.count("old") == 1
    # three units are enough 19 times in 20, 2 shell each
    assert "cost 6 shell today" in cautions[-2]
    assert "can be bait" in cautions[-1]
    assert "real money" in cautions[-1]
