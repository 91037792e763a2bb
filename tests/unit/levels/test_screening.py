import numpy as np
import pytest

from advisor.levels.market import level_market
from advisor.levels.screening import REASONS
from advisor.levels.series import ASK, BID, ItemSettings, MarketSettings, make_series

DAY = 86_400_000_000
HOUR = DAY // 24


def steady(n=20, *, level=2.4, seed=1, first_day=0):
    rng = np.random.default_rng(seed)
    prices = level * np.exp(rng.normal(0, 0.03, n))
    return list(prices), [(first_day + d) * DAY for d in range(n)]


def screened(prices, at_us, *, settings=None, side=ASK, as_of_us=None, extra=None, **columns):
    columns = {"money": "shell", **columns}
    series = {"frame": make_series("frame", prices, at_us=at_us, side=side, **columns)}
    market = level_market(
        series | (extra or {}),
        settings=settings or MarketSettings("shell"),
        as_of_us=max(at_us) + HOUR if as_of_us is None else as_of_us,
    )
    return market.items["frame"]


@pytest.mark.parametrize("factor", [10, 100, 1000, 0.1, 0.01])
def test_a_wrong_digit_either_way(factor):
    prices, at_us = steady()
    levels = screened([*prices, 2.4 * factor], [*at_us, 20 * DAY])
    assert levels.screened == {20: "wrong digit"}
    assert levels.ask.level == pytest.approx(2.4, rel=0.05)


@pytest.mark.parametrize(
    ("side", "factor", "reason"),
    [(ASK, 0.4, "bait"), (ASK, 2.5, "far off"), (BID, 2.5, "bait"), (BID, 0.4, "far off")],
)
def test_too_good_is_bait_and_too_bad_is_far_off(side, factor, reason):
    prices, at_us = steady()
    levels = screened([*prices, 2.4 * factor], [*at_us, 20 * DAY], side=side)
    assert levels.screened == {20: reason}


def test_a_mixed_up_money():
    prices, at_us = steady(level=30.0)
    rate = make_series("crown", [40.0] * 20, at_us=at_us, money="shell", first_id=500)
    plum = make_series("plum", [1.0], at_us=[0], money="crown", first_id=900)
    # 0.75 crown is 30 shell; the user typed 0.75 shell
    levels = screened([*prices, 0.75], [*at_us, 20 * DAY], extra={"crown": rate, "plum": plum})
    assert levels.screened == {20: "wrong money"}


def test_a_cluster_by_one_trader_or_within_hours_is_planted_and_moves_nothing():
    prices, at_us = steady()
    wrong = [1.3, 1.31, 1.3, 1.32]
    times = [20 * DAY + k * HOUR for k in range(4)]
    plain = screened(prices, at_us, as_of_us=21 * DAY).ask.level
    within_hours = screened([*prices, *wrong], [*at_us, *times], as_of_us=21 * DAY)
    assert set(within_hours.screened) == {20, 21, 22, 23}
    assert "planted" in within_hours.screened.values()
    assert within_hours.ask.level == pytest.approx(plain, rel=0.05)


def test_the_same_fall_over_days_by_several_traders_is_believed():
    prices, at_us = steady()
    fallen = [1.3, 1.31, 1.3, 1.32]
    traders = [*([3] * 20), 4, 5, 6, 7]
    levels = screened(
        [*prices, *fallen], [*at_us, *((20 + k) * DAY for k in range(4))], trader=traders
    )
    assert levels.ask.level == pytest.approx(1.3, rel=0.05)
    assert len(levels.screened) <= 2  # the first ones could not be known


def test_a_stale_offer():
    prices, at_us = steady(12)
    falling = [2.4 * 0.97**k for k in range(12)]
    times = [(12 + k) * DAY for k in range(12)]
    left = 2.45
    levels = screened(
        [*prices, *falling, left, left],
        [*at_us, *times, 12 * DAY + HOUR, 23 * DAY + HOUR],
        trader=[*([1] * 24), 9, 9],
        qty=[10.0] * 26,
    )
    assert levels.screened == {25: "stale"}


def test_prices_that_are_no_numbers_are_marked():
    prices, at_us = steady()
    bad = [0.0, -2.0, float("nan"), float("inf")]
    levels = screened([*prices, *bad], [*at_us, *(20 * DAY + k for k in range(4))])
    assert levels.screened == {20 + k: "no price" for k in range(4)}
    assert levels.quotes == 24


def test_the_user_overrules():
    prices, at_us = steady()
    prices, at_us = [*prices, 2.4 * 0.4], [*at_us, 20 * DAY]
    kept = screened(prices, at_us, settings=MarketSettings("shell", kept=frozenset({20})))
    assert kept.screened == {}
    assert kept.ask.level < 2.2
    dropped = screened(prices, at_us, settings=MarketSettings("shell", dropped=frozenset({3})))
    assert dropped.screened == {3: "dropped", 20: "bait"}


def test_a_trader_who_baits_is_doubted():
    prices, at_us = steady(40)
    traders = np.arange(40) % 5
    baited = [p * (0.3 if k % 5 == 4 and k > 9 else 1) for k, p in enumerate(prices)]
    offer = 2.4 * 0.85  # low, but not out of the question
    levels = {
        who: screened(
            [*baited, offer],
            [*at_us, 40 * DAY],
            trader=[*traders, who],
            settings=MarketSettings("shell", items={"frame": ItemSettings("frames")}),
        ).ask.level
        for who in (1, 4)
    }
    assert levels[4] > levels[1]  # the same words from the one who baits move less


def test_every_mark_is_a_documented_word():
    prices, at_us = steady(60)
    rng = np.random.default_rng(3)
    wild = [p * f for p, f in zip(prices, rng.choice([1] * 12 + [0.1, 0.3, 3], 60), strict=True)]
    marks = screened(wild, at_us).screened
    assert marks
    assert set(marks.values()) <= set(REASONS)


def test_a_verdict_never_changes_with_later_quotes_of_the_same_market():
    # context is earlier only; the learned spread may move a borderline verdict, a plain one not
    prices, at_us = steady(30)
    prices[10], prices[15] = 24.0, 0.9
    early = screened(prices, at_us, as_of_us=16 * DAY).screened
    late = screened(prices, at_us, as_of_us=30 * DAY).screened
    assert early == {10: "wrong digit", 15: "bait"} == late


def test_one_offer_said_over_and_over_is_planted_where_several_sellers_are_not():
    prices, at_us = steady()
    together = [20 * DAY + k * 60_000_000 for k in range(4)]
    dear = [3.7, 3.68, 3.72, 3.7]  # half way to standing out
    alone = screened([*prices, *dear], [*at_us, *together], trader=[*([1] * 20), *([2] * 4)])
    assert alone.screened == dict.fromkeys((20, 21, 22, 23), "planted")
    several = screened([*prices, *dear], [*at_us, *together], trader=[*([1] * 20), 2, 3, 4, 5])
    assert "planted" not in several.screened.values()


def test_planted_offers_beside_an_honest_one_are_marked_and_it_is_not():
    prices, at_us = steady()
    beside = [2.4, 3.7, 3.68, 3.72]
    times = [20 * DAY + k * 60_000_000 for k in range(4)]
    levels = screened([*prices, *beside], [*at_us, *times], trader=[*([1] * 20), 3, 2, 2, 2])
    assert levels.screened == dict.fromkeys((21, 22, 23), "planted")


def test_an_offer_ten_times_dearer_than_those_beside_it_is_a_wrong_digit_on_restless_days_too():
    rng = np.random.default_rng(3)
    prices = 2.4 * np.exp(rng.normal(0, 0.45, 20))
    times = [20 * DAY + k * 60_000_000 for k in range(3)]
    levels = screened([*prices, 2.4, 2.5, 25.0], [*(d * DAY for d in range(20)), *times])
    assert levels.screened.get(22) == "wrong digit"
    assert not {20, 21} & set(levels.screened)


def test_a_mixed_up_money_is_judged_at_the_rate_of_its_own_time():
    prices, at_us = steady(level=600.0)
    # the crown doubles after the slip; at its time it was worth 60
    crowns = [60.0] * 20 + [120.0] * 20
    rate = make_series(
        "crown", crowns, at_us=[d * DAY for d in range(40)], money="shell", first_id=500
    )
    plum = make_series("plum", [1.0], at_us=[0], money="crown", first_id=900)
    levels = screened(
        [*prices, 10.0],
        [*at_us, 20 * DAY - HOUR],
        extra={"crown": rate, "plum": plum},
        as_of_us=40 * DAY,
    )
    assert levels.screened == {20: "wrong money"}


def test_a_whole_ladder_left_standing_is_stale_where_one_offer_alone_is_not():
    falling = [2.4 * 0.98**day for day in range(9)]
    seen = [(day * DAY, price, 1) for day, price in enumerate(falling)]
    for day in (0, 8):
        seen += [
            (day * DAY + HOUR + k * 60_000_000, price, 10 + k)
            for k, price in enumerate((2.4, 2.42, 2.45))
        ]
    at_us, prices, traders = (list(each) for each in zip(*sorted(seen), strict=True))
    ladder = screened(prices, at_us, trader=traders)
    assert {ladder.screened.get(k) for k in range(len(seen) - 3, len(seen))} == {"stale"}
    one = screened(prices[:-2], at_us[:-2], trader=traders[:-2])
    assert "stale" not in one.screened.values()
