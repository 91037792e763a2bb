import numpy as np
import pytest

from advisor.levels.ladders import Ladder, Rung, depth_of_ladders, group_quotes, read_looks
from advisor.levels.market import level_market
from advisor.levels.series import ASK, BID, DEAL, ItemSettings, MarketSettings, make_series

DAY = 86_400_000_000
MINUTE = 60_000_000


def ladder(**changes):
    numbers = {
        "steps": (Rung(2.0, 10, 1), Rung(2.5, 20, 2)),
        "seen_us": 0,
        "level": 2.2,
        "usual_qty": 20,
        "depth": 0.0,
        "lots_of": 1,
    }
    return Ladder(**(numbers | changes))


def test_cost_walks_the_rungs():
    assert ladder().cost_of(4) == 8.0
    assert ladder().cost_of(10) == 20.0
    assert ladder().cost_of(16) == 20.0 + 6 * 2.5
    assert ladder().cost_of(0) == 0.0


def test_beyond_the_rungs_the_dearer_of_last_rung_and_level_goes_on():
    assert ladder().cost_of(40) == pytest.approx(20 + 50 + 10 * 2.5)
    assert ladder(level=3.0).cost_of(40) == pytest.approx(20 + 50 + 10 * 3.0)


def test_beyond_the_rungs_the_price_rises_with_depth():
    # 20 more units, rising by 0.1 on the log scale: the mean of 2.5 e^x for x from 0 to 0.1
    steps = np.linspace(0, 0.1, 100_001)
    assert ladder(depth=0.1).cost_of(50) == pytest.approx(70 + 20 * np.mean(2.5 * np.exp(steps)))


def test_lots_are_bought_whole():
    assert ladder(lots_of=10).units_to_buy(11) == 20
    assert ladder(lots_of=10).cost_of(11) == ladder().cost_of(20)
    assert ladder(lots_of=10).units_to_buy(10) == 10


def test_quotes_minutes_apart_were_seen_together_and_hours_apart_were_not():
    at_us = np.array([0, 5, 10, 200, 204]) * MINUTE
    assert group_quotes(np.zeros(5, dtype=int), at_us).tolist() == [0, 0, 0, 1, 1]
    assert group_quotes(np.array([0, 0, 1, 1, 1]), at_us).tolist() == [0, 0, 1, 2, 2]


def test_a_look_never_lasts_longer_than_an_hour():
    at_us = np.arange(0, 180, 10) * MINUTE
    groups = group_quotes(np.zeros(18, dtype=int), at_us)
    assert [int((groups == g).sum()) for g in range(3)] == [6, 6, 6]


def looks_of(prices, qty, *, side=ASK, usual=20.0, used=None):
    n = len(prices)
    return read_looks(
        np.zeros(n, dtype=int),
        np.log(prices),
        side=np.full(n, side),
        qty=np.array(qty, dtype=float),
        usual_qty=np.full(n, usual),
        used=np.ones(n, dtype=bool) if used is None else np.array(used),
    )


def test_asks_are_read_at_the_usual_quantity_from_the_cheapest_up():
    # 20 units: 5 at 2, 10 at 3, 5 of the 50 at 4 -> (10 + 30 + 20) / 20 = 3
    assert np.exp(looks_of([4, 2, 3], [50, 5, 10]).log_price) == pytest.approx([3.0])
    # only 15 stand: their mean
    assert np.exp(looks_of([2, 3], [5, 10]).log_price) == pytest.approx([40 / 15])


def test_bids_are_read_from_the_dearest_down_and_deals_by_their_mean():
    # 20 units: 10 at 4, 10 of the 30 at 3 -> 3.5
    assert np.exp(looks_of([3, 4], [30, 10], side=BID).log_price) == pytest.approx([3.5])
    # all 40 dealt: (90 + 40) / 40
    assert np.exp(looks_of([3, 4], [30, 10], side=DEAL).log_price) == pytest.approx([3.25])


def test_a_quote_that_is_not_used_is_not_read():
    assert np.exp(looks_of([1, 3], [20, 20], used=[False, True]).log_price) == pytest.approx([3.0])


def test_depth_is_learned_from_past_ladders():
    # ten ladders of four rungs of 10 units, each rung 10 % (log) dearer: 0.2 for 20 units
    rungs = np.tile(0.1 * np.arange(4), 10)
    group = np.repeat(np.arange(10), 4)
    depth = depth_of_ladders(group, rungs, qty=np.full(40, 10.0), usual_qty=20.0, at_us=group * DAY)
    assert depth == pytest.approx(0.2, abs=0.01)


def test_the_standing_ladder_is_the_newest_and_holds_no_bait():
    prices = [2.4, 2.5, 2.7, 2.4, 2.5, 2.6, 0.4, 2.5, 2.6, 2.8]
    at_us = [0] * 3 + [DAY] * 3 + [2 * DAY] * 4
    series = make_series(
        "frame", prices, at_us=at_us, money="shell", qty=[40.0] * 10, trader=range(10)
    )
    settings = MarketSettings("shell", items={"frame": ItemSettings("frames", usual_qty=40)})
    levels = level_market({"frame": series}, settings=settings, as_of_us=3 * DAY).items["frame"]
    assert [step.unit_price for step in levels.ladder.steps] == pytest.approx([2.5, 2.6, 2.8])
    assert [step.trader for step in levels.ladder.steps] == [7, 8, 9]
    assert levels.ladder.seen_us == 2 * DAY
    assert list(levels.screened.values()) == ["bait"]
    assert levels.ladder.cost_of(60) == pytest.approx(40 * 2.5 + 20 * 2.6)


def test_a_ladder_counts_as_one_observation():
    # one look of thirty equal asks is worth one look of one, not thirty days
    thirty = make_series("frame", [2.4] * 30, at_us=[0] * 30, money="shell")
    one = make_series("frame", [2.4], at_us=[0], money="shell")
    settings = MarketSettings("shell")
    sds = [
        level_market({"frame": each}, settings=settings, as_of_us=DAY).items["frame"].ask.log_sd
        for each in (thirty, one)
    ]
    assert sds[0] > 0.4 * sds[1]


@pytest.mark.parametrize("dear", [240.0, 5_000.0, 1_234_567.0])
@pytest.mark.parametrize("asked_before", [True, False])
def test_an_absurd_ask_beside_an_honest_one_is_no_offer(dear, asked_before):
    before = [3.0, 3.1, 3.05] if asked_before else []
    at_us = [*(k * DAY for k in range(len(before))), 5 * DAY, 5 * DAY]
    series = make_series("frame", [*before, 3.1, dear], at_us=at_us, money="shell")
    market = level_market({"frame": series}, settings=MarketSettings("shell"), as_of_us=6 * DAY)
    levels = market.items["frame"]
    assert list(levels.screened) == [len(before) + 1]
    assert levels.ladder.cost_of(10) == pytest.approx(31.0, rel=0.1)


def test_beyond_a_last_offer_far_from_the_level_the_price_is_the_level():
    # 1 at 2 and 1 at 9 stand; three more at the level of 2.5, not at 9
    ladder = Ladder((Rung(2.0, 1, -1), Rung(9.0, 1, -1)), 0, 2.5, 1, 0.0)
    assert ladder.cost_of(5) == pytest.approx(2.0 + 9.0 + 3 * 2.5)
