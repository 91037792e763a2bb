"""A side's first price far from the item's other sides is screened: common practice, no source.

What is expected is the market without the mistyped price, and prices well apart or near.
"""

import pytest

from advisor.levels.market import level_market
from advisor.levels.series import ASK, BID, DEAL, MarketSettings, make_series

DAY = 86_400_000_000
HOUR = DAY // 24
ASKED = {"frostglass": 12.0, "marsh oil": 3.0, "reed stalk": 5.0}


def market_with(*frostglass):
    """Three items asked once each, and more quotes (at_us, price, side) of the first."""
    series = {}
    for number, (item, price) in enumerate(ASKED.items()):
        rows = [(0, price, ASK), *(frostglass if item == "frostglass" else ())]
        at_us, prices, side = zip(*rows, strict=True)
        series[item] = make_series(
            item, prices, at_us=at_us, money="shell", side=side, first_id=100 * number
        )
    return level_market(series, settings=MarketSettings("shell"), as_of_us=3 * DAY).items


@pytest.mark.parametrize(
    ("price", "reason"), [(1200.0, "wrong digit"), (40.0, "far off"), (3.0, "far off")]
)
@pytest.mark.parametrize("at_us", [0, HOUR])
def test_a_lone_deal_far_from_the_ask_changes_no_price(price, reason, at_us):
    plain, mistyped = market_with(), market_with((at_us, price, DEAL))
    assert mistyped["frostglass"].screened == {1: reason}
    for item in ASKED:
        assert mistyped[item].sale == plain[item].sale


def test_the_next_honest_deal_is_believed():
    levels = market_with((0, 1200.0, DEAL), (DAY, 11.0, DEAL))["frostglass"]
    assert levels.screened == {1: "wrong digit"}
    assert 10.5 < levels.sale.level < 12.0


def test_a_deal_near_the_ask_counts_and_a_low_bid_is_only_low():
    assert market_with((HOUR, 6.0, DEAL))["frostglass"].screened == {}
    assert market_with((HOUR, 3.0, BID))["frostglass"].bid.level == pytest.approx(3.0)


def test_a_bid_far_above_the_ask_is_screened():
    levels = market_with((HOUR, 100.0, BID))["frostglass"]
    assert levels.bid is None
    assert list(levels.screened) == [1]


def test_a_first_ask_far_from_the_deals_is_screened():
    series = make_series(
        "wax", [3.0, 3.1, 300.0], at_us=[0, DAY, 2 * DAY], money="shell", side=[DEAL, DEAL, ASK]
    )
    levels = level_market({"wax": series}, settings=MarketSettings("shell"), as_of_us=3 * DAY)
    assert levels.items["wax"].screened == {2: "wrong digit"}
    assert levels.items["wax"].ask is None


def test_kin_that_sell_above_their_asks_lift_nobody_above_its_own():
    series = {
        f"wax {k}": make_series(
            f"wax {k}", [3.0, 6.0], at_us=[0, HOUR], money="shell", side=[ASK, DEAL], first_id=9 * k
        )
        for k in range(6)
    } | {"oil": make_series("oil", [4.0], at_us=[0], money="shell", first_id=900)}
    oil = level_market(series, settings=MarketSettings("shell"), as_of_us=DAY).items["oil"]
    assert oil.sale.level <= oil.ask.level
