import math

import numpy as np
import pytest

from advisor.levels.market import level_market
from advisor.levels.rates import read_rates
from advisor.levels.series import MarketSettings, make_series

DAY = 86_400_000_000


PRICED_IN_CROWNS = {"plum": make_series("plum", [1.0], at_us=[0], money="crown", first_id=90_000)}
PRICED_IN_MARKS = {"pear": make_series("pear", [1.0], at_us=[0], money="mark", first_id=91_000)}


def crowns(prices, days, *, first_id=1000, item="crown", money="shell"):
    at_us = [int(day * DAY) for day in days]
    return make_series(item, prices, at_us=at_us, money=money, first_id=first_id)


def test_one_rate_quote_is_the_rate():
    rates = read_rates(PRICED_IN_CROWNS | {"crown": crowns([40.0], [1])}, "shell", as_of_us=2 * DAY)
    rate = rates.now("crown")
    assert rate.value == pytest.approx(40.0, rel=1e-12)
    assert rate.log_sd > 0.02
    assert rates.now("shell").value == 1.0
    assert rates.now("shell").log_sd == 0.0


def test_a_price_is_converted_at_the_rate_of_its_own_time():
    days = np.arange(20)
    rising = 40.0 * 1.02**days  # two per cent a day
    series = {
        "crown": crowns(rising, days),
        "pearl": make_series("pearl", [3.0, 3.0], at_us=[2 * DAY, 19 * DAY], money="crown"),
    }
    values = level_market(series, settings=MarketSettings("shell"), as_of_us=20 * DAY)
    early, late = values.items["pearl"].values.values()
    assert early == pytest.approx(3 * rising[2], rel=0.04)
    assert late == pytest.approx(3 * rising[19], rel=0.06)


def test_later_rates_are_never_looked_at():
    known = PRICED_IN_CROWNS | {"crown": crowns([40, 41, 40], [1, 2, 3])}
    later = PRICED_IN_CROWNS | {"crown": crowns([40, 41, 40, 400, 500], [1, 2, 3, 9, 10])}
    now = 5 * DAY
    one = read_rates(known, "shell", as_of_us=now)
    other = read_rates(later, "shell", as_of_us=now)
    assert one.now("crown") == other.now("crown")


def test_cross_rates_take_the_surest_chain():
    steady = np.arange(30)
    series = PRICED_IN_MARKS | {
        "crown": crowns([40.0] * 30, steady),
        "mark": make_series(
            "mark",
            [0.5] * 30 + [90.0],
            at_us=[int(d * DAY) for d in [*steady, 1]],
            money=["crown"] * 30 + ["shell"],  # the one direct quote is old and alone
            first_id=5000,
        ),
    }
    rate = read_rates(series, "shell", as_of_us=30 * DAY).now("mark")
    assert rate.value == pytest.approx(20.0, rel=0.02)
    crown = read_rates(series, "shell", as_of_us=30 * DAY).now("crown")
    assert rate.log_sd > crown.log_sd  # the chain's parts add up


def test_a_rate_quoted_the_other_way_round_counts():
    series = {"shell": crowns([1 / 40] * 5, range(5), item="shell", money="crown")}
    assert read_rates(series, "shell", as_of_us=5 * DAY).now("crown").value == pytest.approx(40)


def test_a_circle_that_wins_is_reported_and_one_that_closes_is_not():
    days = range(20)
    closing = PRICED_IN_MARKS | {
        "crown": crowns([40.0] * 20, days),
        "mark": make_series(
            "mark",
            [20.0] * 20 + [0.5] * 20,
            at_us=[d * DAY for d in [*days, *days]],
            money=["shell"] * 20 + ["crown"] * 20,
            first_id=3000,
        ),
    }
    assert read_rates(closing, "shell", as_of_us=20 * DAY).circles() == []
    open_ = dict(closing)
    open_["mark"] = make_series(
        "mark",
        [20.0] * 20 + [0.6] * 20,  # a mark is worth 24 shell by way of crowns
        at_us=[d * DAY for d in [*days, *days]],
        money=["shell"] * 20 + ["crown"] * 20,
        first_id=3000,
    )
    (circle,) = read_rates(open_, "shell", as_of_us=20 * DAY).circles()
    assert circle.gain == pytest.approx(0.2, abs=0.02)
    assert set(circle.moneys) == {"crown", "mark", "shell"}
    market = level_market(open_, settings=MarketSettings("shell"), as_of_us=20 * DAY)
    assert any("do not close" in caution for caution in market.cautions)


def test_an_item_with_no_road_is_named_not_dropped():
    series = {
        "pearl": make_series("pearl", [3.0], at_us=[DAY], money="mark"),
        "frame": make_series("frame", [2.4], at_us=[DAY], money="shell", first_id=9),
    }
    market = level_market(series, settings=MarketSettings("shell"), as_of_us=2 * DAY)
    assert market.unreachable == ("pearl",)
    assert "pearl" in market.items
    assert market.items["pearl"].ask is None
    assert market.items["pearl"].screened == {0: "no rate"}
    assert "pearl" in market.cautions[0]
    assert market.items["frame"].ask.level == pytest.approx(2.4)


def test_shared_movement_names_exposure_and_spread():
    series = {
        "crown": crowns([40.0] * 10, range(10)),
        "pearl": make_series("pearl", [3.0] * 4, at_us=[DAY * d for d in range(4)], money="crown"),
        "frame": make_series(
            "frame",
            [80.0, 2.0, 2.0, 80.0],
            at_us=[DAY * d for d in range(4)],
            money=["shell", "crown", "crown", "shell"],
            first_id=50,
        ),
    }
    shared = level_market(series, settings=MarketSettings("shell"), as_of_us=10 * DAY).shared
    assert shared.exposure["pearl"] == {"crown": 1.0}
    assert shared.exposure["frame"] == {"crown": 0.5}
    assert shared.exposure["crown"] == {"crown": 1.0}
    assert shared.rate_log_sd["shell"] == 0.0
    assert 0 < shared.rate_log_sd["crown"] < 0.1


def test_the_rate_s_uncertainty_is_carried_into_the_level():
    quotes = {"at_us": [DAY * d for d in range(5)], "first_id": 10}
    in_crowns = {
        "crown": crowns([40.0], [0]),
        "pearl": make_series("pearl", [3.0] * 5, money="crown", **quotes),
    }
    in_shells = {"pearl": make_series("pearl", [120.0] * 5, money="shell", **quotes)}
    settings = MarketSettings("shell")
    unsure = level_market(in_crowns, settings=settings, as_of_us=5 * DAY).items["pearl"].ask
    sure = level_market(in_shells, settings=settings, as_of_us=5 * DAY).items["pearl"].ask
    assert unsure.level == pytest.approx(sure.level, rel=1e-6)
    assert unsure.log_sd > math.hypot(sure.log_sd, 0.02)


def value_of_pearl(crown, at_days, *, as_of_days):
    pearl = make_series("pearl", [1.0], at_us=[int(at_days * DAY)], money="crown")
    market = level_market(
        {"crown": crown, "pearl": pearl},
        settings=MarketSettings("shell"),
        as_of_us=int(as_of_days * DAY),
    )
    return market.items["pearl"].values[0]


def test_a_fast_rate_does_not_lag():
    """Three per cent a day, quoted each morning: an hour later that morning's rate holds."""
    days = np.arange(20.0)
    rising = crowns(100.0 * 1.03**days, days)
    assert value_of_pearl(rising, 19.04, as_of_days=19.1) == pytest.approx(100 * 1.03**19, rel=1e-9)
    # half way between two quotes, known afterwards: half way on the log scale
    assert value_of_pearl(rising, 9.5, as_of_days=19) == pytest.approx(100 * 1.03**9.5)


def test_a_rate_quoted_two_hours_ago_holds_though_it_doubled():
    assert value_of_pearl(crowns([100.0, 200.0], [1, 10]), 10.08, as_of_days=10.1) == (
        pytest.approx(200)
    )


def test_a_lone_wrong_digit_in_a_rate_is_not_believed():
    steady = crowns([100.0, 101.0, 100.0, 102.0, 1010.0], [1, 2, 3, 4, 5])
    assert value_of_pearl(steady, 5.05, as_of_days=5.1) == pytest.approx(102, rel=0.03)
    jumped = crowns([100.0, 101.0, 100.0, 102.0, 200.0, 203.0], [1, 2, 3, 4, 5, 6])
    assert value_of_pearl(jumped, 6.05, as_of_days=6.1) == pytest.approx(203, rel=0.03)


def test_one_rate_converts_to_the_digit():
    assert value_of_pearl(crowns([100.0], [1]), 2, as_of_days=3) == 100.0
    ask = make_series("plum", [12.5], at_us=[0], money="shell")
    market = level_market({"plum": ask}, settings=MarketSettings("shell"), as_of_us=DAY)
    assert market.items["plum"].values[0] == 12.5


def test_where_no_two_rates_are_near_one_another_all_count():
    wild = crowns([1e-6, 1.0, 1e3, 1e9], [0, 0.1, 0.2, 0.3])
    rate = read_rates(PRICED_IN_CROWNS | {"crown": wild}, "shell", as_of_us=DAY).now("crown")
    assert 1e-6 < rate.value < 1e9
