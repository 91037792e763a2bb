"""Where a listing sells in its usual time: from deals, moved along with the asks since.

Deals are rare and age quickly. What lasts is their distance from the ask level of
their day; so the deals' own level and the ask level less that distance are
weighed by how sure each is. Without deals, the habit of the family tells.
"""

from __future__ import annotations

import math

import numpy as np

from advisor.levels.followed import FollowedMarket
from advisor.levels.paths import PathLaw
from advisor.levels.sale_habits import SaleHabit
from advisor.levels.series import ASK, DEAL

_HABIT_DEALS = 3.0
_NEWEST_DEALS = 40
_LEAST_SHARE = 0.85
"""Two opinions that share the same deals are never much surer than the surer of them."""


def sale_law(
    followed: FollowedMarket,
    k: int,
    *,
    ask: PathLaw | None,
    bid: PathLaw | None,
    deal: PathLaw | None,
    habit: SaleHabit,
) -> PathLaw | None:
    """The law of an item's sale price, before the fee; None where nothing is known of it."""
    if deal is not None:
        if ask is None:
            return deal
        gap, gap_sd = _gap_of_deals(followed, k, habit=habit)
        return _weighed(deal, ask.moved(gap, extra_sd=gap_sd))
    if ask is not None and bid is not None and bid.start_log < ask.start_log:
        width = ask.start_log - bid.start_log
        down = (1.0 - habit.share_of_gap) * width
        return ask.moved(-down, extra_sd=habit.share_sd * width)
    if ask is not None:
        return ask.moved(-habit.under_ask, extra_sd=habit.distance_sd)
    if bid is not None:
        return bid.moved(habit.over_bid, extra_sd=habit.distance_sd)
    return None


def _gap_of_deals(followed: FollowedMarket, k: int, *, habit: SaleHabit) -> tuple[float, float]:
    """Mean log distance of the newest deals from the ask level of their day, and its sd.

    Drawn towards the habit as if that had been seen in `_HABIT_DEALS` deals.
    """
    ask, deal = (followed.column(k, side) for side in (ASK, DEAL))
    tracks = followed.tracks
    asked, dealt = tracks.times_us(ask), tracks.times_us(deal)
    before = np.searchsorted(asked, dealt, side="right") - 1
    sound = np.flatnonzero((before >= 0) & (tracks.stray[: len(dealt), deal] < 0.5))
    sound = sound[-_NEWEST_DEALS:]
    gaps = tracks.log_price[sound, deal] - tracks.mean[before[sound], ask]
    n = len(gaps)
    gap = (gaps.sum() - _HABIT_DEALS * habit.under_ask) / (n + _HABIT_DEALS)
    squares = np.sum((gaps - gap) ** 2) + _HABIT_DEALS * habit.distance_sd**2
    return float(gap), math.sqrt(squares) / (n + _HABIT_DEALS)


def _weighed(deal: PathLaw, from_ask: PathLaw) -> PathLaw:
    """The deals' law, its level weighed against the one the asks tell."""
    sds = max(deal.start_sd, 1e-6), max(from_ask.start_sd, 1e-6)
    own, other = sds[0] ** -2, sds[1] ** -2
    log = (own * deal.start_log + other * from_ask.start_log) / (own + other)
    sd = max((own + other) ** -0.5, _LEAST_SHARE * min(sds))
    surer = deal if own > other else from_ask
    return PathLaw(
        part_log=np.array([log]),
        part_sd=np.array([sd]),
        part_weight=np.ones(1),
        drift=surer.drift,
        day_sd=surer.day_sd,
        far=surer.far,
        quote_sd=deal.quote_sd,
    )
