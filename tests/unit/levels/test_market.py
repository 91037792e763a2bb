import json
import math

import numpy as np
import pytest

from advisor.errors import BadInput, CannotAnswer
from advisor.levels.market import level_market, prices_json
from advisor.levels.paths import QUANTILE_KEYS
from advisor.levels.series import (
    ASK,
    BID,
    DEAL,
    ItemSettings,
    MarketSettings,
    QuoteSeries,
    Season,
    make_series,
)

DAY = 86_400_000_000
PLAIN = MarketSettings("shell")


def market_of(prices, *, days=None, settings=PLAIN, as_of_day=None, side=ASK, **columns):
    days = range(len(prices)) if days is None else days
    at_us = [int(day * DAY) for day in days]
    series = make_series("frame", prices, at_us=at_us, money="shell", side=side, **columns)
    last = max(at_us, default=0)
    now = last if as_of_day is None else int(as_of_day * DAY)
    return level_market({"frame": series}, settings=settings, as_of_us=now)


def noisy(n, *, level=2.4, sd=0.04, seed=0):
    return level * np.exp(np.random.default_rng(seed).normal(0, sd, n))


def test_one_ask_is_the_level_and_honestly_wide():
    levels = market_of([2.4], as_of_day=1).items["frame"]
    assert levels.ask.level == pytest.approx(2.4, rel=1e-12)
    assert 0.05 < levels.ask.log_sd < 0.5
    assert levels.ask.low_95 < 2.2
    assert levels.ask.high_95 > 2.6
    assert levels.ask.sd == pytest.approx(levels.ask.level * levels.ask.log_sd)
    assert levels.bid is None
    assert levels.quotes == 1
    assert levels.screened == {}


def test_three_quotes_give_a_level_inside_them_and_surer_than_one():
    three = market_of([2.4, 2.5, 2.6]).items["frame"].ask
    one = market_of([2.4]).items["frame"].ask
    assert 2.4 < three.level < 2.6
    assert three.log_sd < one.log_sd


def test_an_item_borrows_its_family_s_spread():
    calm = {
        f"frame {k}": make_series(
            f"frame {k}",
            noisy(60, sd=0.01, seed=k),
            at_us=np.arange(60) * DAY,
            money="shell",
            first_id=1000 * k,
        )
        for k in range(5)
    }
    new = {
        "new": make_series(
            "new", [3.0, 3.02], at_us=[58 * DAY, 59 * DAY], money="shell", first_id=9000
        )
    }

    def log_sd(family):
        items = {name: ItemSettings("frames") for name in calm} | {"new": ItemSettings(family)}
        settings = MarketSettings("shell", items=items)
        market = level_market(calm | new, settings=settings, as_of_us=60 * DAY)
        return market.items["new"].ask.log_sd

    assert log_sd("frames") < 0.5 * log_sd("others")


def test_spread_grows_with_staleness_and_shrinks_with_evidence():
    prices = noisy(40)
    fresh, stale = (market_of(prices, as_of_day=day).items["frame"].ask for day in (39, 69))
    assert stale.log_sd > 1.3 * fresh.log_sd
    fewer = market_of(prices[:5]).items["frame"].ask
    assert fewer.log_sd > fresh.log_sd


def test_a_jump_is_followed_within_three_quotes():
    before = noisy(40)
    for factor in (0.45, 2.0):
        after = noisy(3, level=2.4 * factor, seed=5)
        levels = market_of([*before, *after]).items["frame"]
        assert levels.ask.level == pytest.approx(2.4 * factor, rel=0.1)


def test_one_wild_quote_moves_next_to_nothing():
    before = noisy(40)
    plain = market_of(before, as_of_day=40).items["frame"].ask.level
    for factor in (0.45, 2.0, 10.0):
        levels = market_of([*before, 2.4 * factor]).items["frame"]
        assert levels.ask.level == pytest.approx(plain, rel=0.03)


def test_sale_comes_from_deals_and_bid_and_sale_are_net_of_the_fee():
    prices = [*noisy(20), *noisy(20, level=1.8, seed=2), *noisy(20, level=2.1, seed=3)]
    days = [*range(20)] * 3
    sides = [ASK] * 20 + [BID] * 20 + [DEAL] * 20
    gross = market_of(prices, days=days, side=sides).items["frame"]
    net = market_of(
        prices, days=days, side=sides, settings=MarketSettings("shell", sale_fee=0.05)
    ).items["frame"]
    assert gross.ask.level == pytest.approx(2.4, rel=0.04)
    assert gross.bid.level == pytest.approx(1.8, rel=0.04)
    assert gross.sale.level == pytest.approx(2.1, rel=0.04)
    assert net.ask.level == pytest.approx(gross.ask.level)
    assert net.bid.level == pytest.approx(0.95 * gross.bid.level)
    assert net.sale.level == pytest.approx(0.95 * gross.sale.level)


def test_old_deals_move_along_with_the_asks_since():
    # deals ten per cent under the asks until day 20; then the asks fall by a third
    asks = [*noisy(40, sd=0.02), *noisy(20, level=1.6, sd=0.02, seed=2)]
    deals = noisy(20, level=2.16, sd=0.02, seed=3)
    sides = [ASK] * 60 + [DEAL] * 20
    levels = market_of([*asks, *deals], days=[*range(60), *range(20)], side=sides).items["frame"]
    assert levels.ask.level == pytest.approx(1.6, rel=0.03)
    assert levels.sale.level == pytest.approx(1.44, rel=0.06)
    assert levels.sale.log_sd > levels.ask.log_sd


def test_without_deals_sale_lies_between_bid_and_ask_and_is_less_sure():
    prices = [*noisy(20), *noisy(20, level=1.8, seed=2)]
    levels = market_of(prices, days=[*range(20)] * 2, side=[ASK] * 20 + [BID] * 20).items["frame"]
    assert levels.bid.level < levels.sale.level < levels.ask.level
    assert levels.sale.log_sd > levels.ask.log_sd


def test_the_family_shows_where_listings_sell():
    def item(name, first_id, deals):
        prices = [*noisy(20), *noisy(20, level=1.8, seed=2), *noisy(deals, level=1.85, seed=3)]
        return make_series(
            name,
            prices,
            at_us=[d * DAY for d in [*range(20), *range(20), *range(deals)]],
            money="shell",
            side=[ASK] * 20 + [BID] * 20 + [DEAL] * deals,
            first_id=first_id,
        )

    def sale(kin_with_deals):
        series = {"new": item("new", 0, 0)}
        for k in range(kin_with_deals):
            series[f"kin {k}"] = item(f"kin {k}", 1000 * (k + 1), 20)
        items = {name: ItemSettings("frames") for name in series}
        market = level_market(
            series, settings=MarketSettings("shell", items=items), as_of_us=20 * DAY
        )
        return market.items["new"].sale.level

    assert sale(8) < 0.97 * sale(0)  # kin sell close to the bid


@pytest.mark.parametrize(
    ("side", "missing"), [(BID, "ask"), (DEAL, "ask"), (ASK, "bid"), (DEAL, "bid")]
)
def test_a_side_nobody_quoted_is_not_guessed(side, missing):
    levels = market_of(noisy(10), side=side).items["frame"]
    assert getattr(levels, missing) is None
    assert levels.sale is not None


def test_the_workspace_money_is_worth_one_for_sure():
    levels = market_of([2.4], settings=MarketSettings("shell", sale_fee=0.1)).items["shell"]
    for level in (levels.ask, levels.bid, levels.sale):
        assert (level.level, level.sd) == (1.0, 0.0)
    assert levels.chance_below(0.99, 30) == 0.0
    assert levels.chance_below(1.0, 1) == 1.0


def test_another_money_without_quotes_of_its_own_side_is_worth_its_rate():
    series = {
        "shell": make_series("shell", [1 / 40], at_us=[0], money="crown"),
        "pearl": make_series("pearl", [2.0], at_us=[0], money="crown", first_id=5),
    }
    levels = level_market(series, settings=PLAIN, as_of_us=DAY).items
    assert levels["crown"].ask.level == pytest.approx(40.0)
    assert levels["pearl"].ask.level == pytest.approx(80.0)


def test_a_money_whose_own_quotes_are_all_dropped_is_worth_its_rate():
    series = {
        "frame": make_series("frame", noisy(5), at_us=np.arange(5) * DAY, money="shell"),
        "crown": make_series("crown", [41.0], at_us=[0], money="shell", first_id=20),
        "shell": make_series("shell", [1 / 40], at_us=[0], money="crown", first_id=21),
    }
    settings = MarketSettings("shell", dropped=frozenset({20}))
    levels = level_market(series, settings=settings, as_of_us=DAY).items["crown"]
    assert levels.ask.level == levels.sale.level == pytest.approx(40.0)
    assert levels.screened == {20: "dropped"}


def test_no_quotes_at_all():
    empty = make_series("frame", [], at_us=[], money=[])
    market = level_market({"frame": empty}, settings=PLAIN, as_of_us=DAY)
    levels = market.items["frame"]
    assert levels.ask is levels.bid is levels.sale is levels.ladder is levels.newest_us is None
    assert levels.forecast == ()
    with pytest.raises(CannotAnswer, match="frame"):
        levels.chance_below(1.0, 3)
    assert list(level_market({}, settings=PLAIN, as_of_us=DAY).items) == ["shell"]


def test_an_item_never_quoted_is_named():
    with pytest.raises(BadInput, match="frame"):
        market_of([2.4]).items["fram"]


def test_every_quote_screened():
    settings = MarketSettings("shell", dropped=frozenset({0, 1}))
    levels = market_of([2.4, 2.5], settings=settings).items["frame"]
    assert levels.ask is None
    assert levels.screened == {0: "dropped", 1: "dropped"}
    assert market_of([0.0, -1.0]).items["frame"].ask is None


def test_a_quote_far_in_the_future_is_not_looked_at():
    prices, days = [*noisy(20), 99.0], [*range(20), 40_000]
    with_future = market_of(prices, days=days, as_of_day=20)
    without = market_of(prices[:-1], as_of_day=20)
    assert prices_json(with_future) == prices_json(without)


def test_prices_over_fifteen_orders_of_magnitude():
    prices = 10.0 ** np.random.default_rng(4).uniform(-6, 9, 60)
    levels = market_of(prices).items["frame"]
    assert 1e-7 < levels.ask.level < 1e10
    assert math.isfinite(levels.ask.sd)
    for start in (1e-9, 1e12):
        assert market_of(start * noisy(30)).items["frame"].ask.level == pytest.approx(
            2.4 * start, rel=0.05
        )


def test_ten_thousand_quotes_in_one_second():
    rng = np.random.default_rng(6)
    at = np.sort(rng.integers(0, 1_000_000, 10_000)) / DAY
    prices = noisy(10_000, seed=6)
    levels = market_of(prices, days=at, qty=np.full(10_000, 5.0), as_of_day=1).items["frame"]
    assert levels.quotes == 10_000
    assert levels.ask.level == pytest.approx(float(prices.min()), rel=0.02)
    assert len(levels.ladder.steps) > 9000
    assert levels.ladder.cost_of(10) == pytest.approx(5 * np.sort(prices)[:2].sum())


def test_a_history_far_longer_than_the_filter_looks_at():
    rng = np.random.default_rng(8)
    prices = 2.4 * np.exp(np.cumsum(rng.normal(0, 0.01, 3000)) + rng.normal(0, 0.03, 3000))
    whole = market_of(prices).items["frame"].ask
    recent = market_of(prices[-1000:], days=range(2000, 3000)).items["frame"].ask
    assert whole.level == pytest.approx(recent.level, rel=1e-3)


def test_forecast_quantiles_rise_and_spread_with_the_days():
    levels = market_of(noisy(60)).items["frame"]
    assert [days for days, _ in levels.forecast] == [1, 3, 7, 14]
    for _, quantiles in (*levels.forecast, *levels.sale_forecast):
        assert tuple(quantiles) == QUANTILE_KEYS
        assert list(quantiles.values()) == sorted(quantiles.values())
    widths = [q["0.95"] / q["0.05"] for _, q in levels.forecast]
    assert widths == sorted(widths)


@pytest.mark.parametrize("seed", [0, 3, 11])
def test_after_wild_days_no_interval_is_narrower_a_day_later(seed):
    logs = 0.06 * np.random.default_rng(seed).standard_t(2, 60)
    series = {"frame": make_series("frame", np.exp(logs), at_us=np.arange(60) * DAY, money="shell")}
    market = level_market(series, settings=MarketSettings("shell"), as_of_us=60 * DAY)
    path = market.items["frame"].ask_path
    for of_quote in (False, True):
        ends = [path.log_quantiles((0.025, 0.975), d, of_quote=of_quote) for d in range(60)]
        assert np.all(np.diff([high - low for low, high in ends]) >= 0)


def test_a_steady_trend_goes_on_damped():
    days = np.arange(60)
    rng = np.random.default_rng(2)
    prices = 2.4 * np.exp(-0.02 * days + rng.normal(0, 0.01, 60))
    levels = market_of(prices).items["frame"]
    assert -0.025 < levels.trend_per_day < -0.008
    median = dict(levels.forecast)[7]["0.5"]
    assert levels.ask.level * np.exp(-0.15) < median < levels.ask.level * np.exp(-0.05)
    flat = market_of(noisy(60)).items["frame"]
    assert abs(flat.trend_per_day) < 0.004


def seasons_of(fall_in_first, *, second_days=20, seed=0):
    """A first season whose price halves between day 20 and 40, and the start of a second."""
    rng = np.random.default_rng(seed)
    shape = -fall_in_first * np.clip((np.arange(60) - 20) / 20, 0, 1)
    first = 2.4 * np.exp(shape + rng.normal(0, 0.02, 60))
    second = 3.0 * np.exp(shape[:second_days] + rng.normal(0, 0.02, second_days))
    days = [*range(60), *range(80, 80 + second_days)]
    return [*first, *second], days


def test_an_earlier_season_is_a_prior_for_the_days_to_come():
    seasons = (Season("first", 0, 70 * DAY), Season("second", 80 * DAY, 160 * DAY))
    prices, days = seasons_of(0.7)
    told = market_of(prices, days=days, settings=MarketSettings("shell", seasons=seasons))
    untold = market_of(prices, days=days)
    levels = told.items["frame"]
    assert levels.day_of_season == 20
    ahead = dict(levels.forecast)[14]["0.5"] / levels.ask.level
    plain = untold.items["frame"]
    # the first season fell by 0.7 * 13/20 over these days; some of it is expected again
    assert ahead < np.exp(-0.1)
    assert dict(plain.forecast)[14]["0.5"] / plain.ask.level > np.exp(-0.1)


def test_an_earlier_season_that_forecast_badly_loses_its_say():
    seasons = (Season("first", 0, 70 * DAY), Season("second", 80 * DAY, 160 * DAY))
    settings = MarketSettings("shell", seasons=seasons)
    prices, days = seasons_of(0.7)
    # the second season does not fall where the first did
    contrary = [*prices, *noisy(16, level=3.0)]
    later = [*days, *range(100, 116)]
    levels = market_of(contrary, days=later, settings=settings).items["frame"]
    drop = np.log(dict(levels.forecast)[3]["0.5"] / levels.ask.level)
    assert drop > -0.03  # the first season fell by 0.105 in these three days


def test_a_first_season_claims_nothing():
    seasons = (Season("first", 0, 90 * DAY),)
    prices = noisy(40)
    with_season = market_of(prices, settings=MarketSettings("shell", seasons=seasons))
    without = market_of(prices)
    assert with_season.items["frame"].forecast == without.items["frame"].forecast
    assert without.items["frame"].day_of_season is None
    assert with_season.items["frame"].day_of_season == 40


def test_json_holds_the_contract_and_nothing_that_is_no_number():
    series = {
        "frame": make_series("frame", noisy(20), at_us=np.arange(20) * DAY, money="shell"),
        "pearl": make_series("pearl", [3.0], at_us=[DAY], money="mark", first_id=100),
    }
    market = level_market(series, settings=PLAIN, as_of_us=30 * DAY)
    answer = json.loads(json.dumps(prices_json(market), allow_nan=False))
    assert set(answer) == {"money", "as_of", "items"}
    assert answer["as_of"] == "1970-01-31T00:00:00Z"
    by_name = {each["item"]: each for each in answer["items"]}
    assert set(by_name) == {"frame", "mark", "pearl", "shell"}
    frame = by_name["frame"]
    assert set(frame) == {
        "item", "family", "ask", "bid", "sale", "quotes", "screened", "newest",
        "trend_per_day", "day_of_season", "forecast", "sale_forecast",
    }  # fmt: skip
    assert set(frame["ask"]) == {"level", "sd", "low_95", "high_95"}
    assert frame["bid"] is None
    assert frame["newest"] == "1970-01-20T00:00:00Z"
    assert [row["days"] for row in frame["forecast"]] == [1, 3, 7, 14]
    assert by_name["pearl"]["ask"] is None
    assert by_name["pearl"]["screened"] == 1


def test_only_asked_items_are_answered_and_kin_still_lend():
    series = {
        "frame": make_series("frame", noisy(20), at_us=np.arange(20) * DAY, money="shell"),
        "wax": make_series(
            "wax", noisy(20, seed=1), at_us=np.arange(20) * DAY, money="shell", first_id=50
        ),
    }
    whole = level_market(series, settings=PLAIN, as_of_us=30 * DAY)
    part = level_market(series, settings=PLAIN, as_of_us=30 * DAY, items=["wax"], days=[2])
    assert list(part.items) == ["wax"]
    assert part.items["wax"].ask == whole.items["wax"].ask
    assert [days for days, _ in part.items["wax"].forecast] == [2]


def test_columns_straight_from_a_book():
    series = QuoteSeries(
        item="frame",
        ids=np.array([11, 7]),
        at_us=np.array([2 * DAY, DAY]),
        price=np.array([2.5, 2.4]),
        money_names=("shell",),
        money=np.zeros(2, dtype=np.int8),
        side=np.zeros(2, dtype=np.int8),
        qty=np.array([np.nan, 60]),
        trader=np.array([-1, 3], dtype=np.int32),
    )
    levels = level_market({"frame": series}, settings=PLAIN, as_of_us=3 * DAY).items["frame"]
    assert levels.values == pytest.approx({7: 2.4, 11: 2.5})
    assert levels.newest_us == 2 * DAY
