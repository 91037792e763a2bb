"""What the advised schedule brings against simple habits, buyers drawn at random.

    python tests/bench/sell_habits.py

Four pieces in nine days; the level is 100, the fee 5 %. Every buyer has a most they pay,
logistic in the log of the price. Habits: the level throughout; the best price that stays
(found by playing forty of them, which nobody can know beforehand); a price that falls by
the clock from 25 % above to what bidders pay; all to bidders today.
"""

from __future__ import annotations

import numpy as np

from advisor.decide.sell.sale_market import SaleMarket
from advisor.decide.sell.sell_advice import weigh_sale

COUNT, DAYS, RUNS, WIDTH, FEE = 4, 9, 20_000, 0.08, 0.05
MARKETS = {
    "still": {},
    "rising 2 % a day": {"drift": 0.02},
    "falling 2 % a day": {"drift": -0.02},
    "season ends": {"season": 9},
    "few buyers, no bids": {"bid": None, "a_day": 0.3},
    "many buyers": {"a_day": 2.0},
}


def market_of(*, drift=0.0, season=None, bid=88.0, a_day=0.8):
    share = np.ones(DAYS + 1)
    if season is not None:
        share = np.clip((season - np.arange(DAYS + 1)) / 7.0, 0.0, 1.0)
    return SaleMarket(100.0, a_day, WIDTH, bid, np.full(DAYS, drift), share, kept=1 - FEE)


def play(market, choose, *, runs=RUNS, seed=1):
    """Mean proceeds and their standard error; `choose(day, left)` gives (to bidders, ask)."""
    rng = np.random.default_rng(seed)
    left, got = np.full(runs, COUNT), np.zeros(runs)
    for day in range(DAYS):
        come = rng.poisson(2 * market.a_day * market.share[day], runs)
        most = market.level_on(day) * np.exp(
            WIDTH * rng.logistic(size=(runs, max(int(come.max()), 1)))
        )
        there, after = np.arange(most.shape[1]) < come[:, None], left.copy()
        for pieces in range(1, COUNT + 1):
            rows = left == pieces
            at_once, ask = choose(day, pieces)
            bought = np.minimum(np.sum(there & (most >= ask), axis=1), pieces - at_once)
            got[rows] += at_once * market.bid_on(day) + bought[rows] * ask * (1 - FEE)
            after[rows] = pieces - at_once - bought[rows]
        left = after
    got += left * market.bid_on(DAYS)
    return got.mean(), got.std() / np.sqrt(runs)


def main():
    print(
        f"{'market':22}{'advised':>9}{'said':>8}{'level':>8}{'best one':>9}{'clock':>8}{'bids':>7}"
    )
    for name, words in MARKETS.items():
        market = market_of(**words)
        advice = weigh_sale(COUNT, market)
        kept = [advice.plan.kept_after_bids(day) for day in range(DAYS)]

        def advised(day, left, kept=kept, plan=advice.plan):
            after = int(kept[day][left])
            return left - after, plan.ask(day, max(after, 1))

        low = 80.0 if market.bid is None else market.bid / (1 - FEE)
        followed, error = play(market, advised)
        stays = max(play(market, lambda d, n, p=p: (0, p), runs=4000)[0] for p in range(85, 125))
        others = [
            play(market, lambda day, left: (0, 100.0))[0],
            stays,
            play(market, lambda day, left, low=low: (0, 125 + (low - 125) * day / (DAYS - 1)))[0],
            COUNT * market.bid_on(0),
        ]
        cells = "".join(f"{each:>9.1f}" for each in (followed, advice.proceeds, *others))
        print(f"{name:22}{cells}   +/- {error:.1f}")


if __name__ == "__main__":
    main()
