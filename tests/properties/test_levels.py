"""What must hold of the levels of any market at all."""

import json
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.levels.market import level_market, prices_json
from advisor.levels.screening import REASONS
from advisor.levels.series import ItemSettings, MarketSettings, QuoteSeries

DAY = 86_400_000_000
NOW = 100 * DAY

quote = st.fixed_dictionaries(
    {
        "at_us": st.integers(0, NOW),
        "price": st.one_of(
            st.floats(1e-6, 1e9), st.floats(2.0, 3.0), st.sampled_from([0.0, -1.0, math.nan])
        ),
        "money": st.sampled_from([0, 0, 0, 1, 2]),
        "side": st.sampled_from([0, 0, 0, 1, 2]),
        "qty": st.sampled_from([math.nan, 1.0, 20.0, 500.0]),
        "trader": st.integers(-1, 3),
    }
)
market_of_quotes = st.dictionaries(
    st.sampled_from(["crown", "frame", "mark", "shell", "wax"]),
    st.lists(quote, max_size=25),
    max_size=4,
)
plain = MarketSettings(
    "shell", sale_fee=0.05, items={"frame": ItemSettings("f"), "wax": ItemSettings("f")}
)
few = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def series_of(quotes, *, shuffle=None, scale=1.0):
    series = {}
    for number, (item, rows) in enumerate(sorted(quotes.items())):
        ids = 1000 * number + np.arange(len(rows))
        order = np.arange(len(rows)) if shuffle is None else shuffle.permutation(len(rows))
        columns = {
            name: np.array([rows[i][name] for i in order])
            for name in ("at_us", "price", "money", "side", "qty", "trader")
        }
        columns["price"] = columns["price"] * scale
        series[item] = QuoteSeries(
            item=item, ids=ids[order], money_names=("shell", "crown", "mark"), **columns
        )
    return series


def answer(series, *, now=NOW):
    market = level_market(series, settings=plain, as_of_us=now)
    return market, prices_json(market)


@few
@given(market_of_quotes)
def test_every_answer_is_finite_ordered_and_says_why(quotes):
    market, result = answer(series_of(quotes))
    json.dumps(result, allow_nan=False)
    for item in market.items:
        levels = market.items[item]
        assert set(levels.screened.values()) <= set(REASONS)
        for level in (levels.ask, levels.bid, levels.sale):
            if level is not None:
                assert 0 < level.low_95 <= level.level <= level.high_95
        for _, quantiles in levels.forecast:
            assert list(quantiles.values()) == sorted(quantiles.values())
        if levels.ask is not None:
            assert 0.0 <= levels.chance_below(2.5, 5) <= 1.0
            assert levels.ladder.cost_of(3) > 0


@few
@given(market_of_quotes, st.integers(0, 2**32 - 1))
def test_the_order_of_rows_does_not_matter(quotes, seed):
    _, plain_answer = answer(series_of(quotes))
    _, shuffled = answer(series_of(quotes, shuffle=np.random.default_rng(seed)))
    assert shuffled == plain_answer


@few
@given(market_of_quotes, market_of_quotes)
def test_later_quotes_have_no_influence(quotes, later):
    now = 50 * DAY
    known = {item: [row for row in rows if row["at_us"] <= now] for item, rows in quotes.items()}
    planted = {item: [*rows] for item, rows in known.items()}
    for item, rows in later.items():
        if item in planted:
            planted[item] += [row for row in rows if row["at_us"] > now]
    one, without = answer(series_of(known), now=now)
    other, with_future = answer(series_of(planted), now=now)
    assert with_future == without
    assert one.cautions == other.cautions


@few
@given(st.lists(quote, min_size=1, max_size=25), st.sampled_from([10.0, 1e-3, 7.0]))
def test_prices_times_ten_are_levels_times_ten(rows, scale):
    rows = [row | {"money": 0} for row in rows]
    _, one = answer(series_of({"frame": rows}))
    _, ten = answer(series_of({"frame": rows}, scale=scale))
    for before, after in zip(one["items"], ten["items"], strict=True):
        factor = scale if before["item"] == "frame" else 1.0
        for side in ("ask", "bid", "sale"):
            if before[side] is None:
                assert after[side] is None
            else:
                assert after[side]["level"] == pytest.approx(
                    factor * before[side]["level"], rel=1e-4
                )
                assert after[side]["sd"] == pytest.approx(factor * before[side]["sd"], rel=1e-2)
