"""Where listings sell between bid and ask, as the deals of each family show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.levels.followed import FollowedMarket
from advisor.levels.series import ASK, BID, DEAL, Floats
from advisor.levels.valuing import SIDES_PER_ITEM


@dataclass(frozen=True, slots=True)
class SaleHabit:
    """Where a family's deals lie.

    Attributes:
        share_of_gap: Part of the log gap from bid up to ask, 0 at the bid, 1 at the ask.
        share_sd: How unsure that is.
        under_ask, over_bid: Log distance below asks, above bids, where only one is known.
        distance_sd: How unsure those are, log scale.
    """

    share_of_gap: float = 0.5
    share_sd: float = 0.25
    under_ask: float = 0.05
    over_bid: float = 0.10
    distance_sd: float = 0.08


PLAIN_HABIT = SaleHabit()
"""Where no deal of the family tells: half way; 5 % under asks; 10 % over bids."""

_PRIOR_ITEMS = 3.0
_MOST_DISTANCE = 1.0
"""No item's deals tell its kin of more than this, nor of deals above the ask, log scale."""


@dataclass(frozen=True, slots=True)
class SaleHabits:
    """The habit of each family, by its number."""

    by_family: Mapping[int, SaleHabit]

    def of(self, family: int) -> SaleHabit:
        """A family's habit, the plain one where it has no deals."""
        return self.by_family.get(family, PLAIN_HABIT)


def learn_sale_habits(followed: FollowedMarket) -> SaleHabits:
    """Habits from the items that have deals beside asks or bids; drawn towards the plain one."""
    tracks = followed.tracks
    middle = np.full(len(followed.family) * SIDES_PER_ITEM, np.nan)
    middle[tracks.track] = (tracks.part_mean * tracks.part_weight).sum(axis=0)
    log = middle.reshape(-1, SIDES_PER_ITEM)
    habits = {}
    for family in np.unique(followed.family[np.isfinite(log[:, DEAL])]):
        ask, bid, deal = (log[followed.family == family][:, side] for side in (ASK, BID, DEAL))
        gap = ask - bid
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.clip(np.where(gap > 0.01, (deal - bid) / gap, np.nan), 0.0, 1.0)
        habits[int(family)] = SaleHabit(
            share_of_gap=_drawn(share, PLAIN_HABIT.share_of_gap),
            under_ask=_drawn(np.clip(ask - deal, 0.0, _MOST_DISTANCE), PLAIN_HABIT.under_ask),
            over_bid=_drawn(np.clip(deal - bid, 0.0, _MOST_DISTANCE), PLAIN_HABIT.over_bid),
        )
    return SaleHabits(habits)


def _drawn(seen: Floats, plain: float) -> float:
    """Median of what was seen, so that no one item decides; drawn towards the plain value."""
    known = seen[np.isfinite(seen)]
    if len(known) == 0:
        return plain
    n = len(known)
    return float((n * np.median(known) + _PRIOR_ITEMS * plain) / (n + _PRIOR_ITEMS))
