"""Asks seen together: one ladder, one observation, and what N units cost on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.levels.series import BID, DEAL, Bools, Floats, Ints
from advisor.quotes import MICROSECONDS_A_DAY

TOGETHER_US = 15 * 60 * 1_000_000
"""Quotes this close to the one before were seen together."""

LONGEST_LOOK_US = 60 * 60 * 1_000_000
"""No ladder is read over more than this."""

PLAIN_DEPTH = 0.0
"""Log price rise when one buys as much again as usual, where no past ladder tells: none,
for a rise that nobody saw would be a guess."""


_NEAR_LEVEL = 2.0
"""An offer dearer than so many times the level says nothing of those beyond it."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One offer of a ladder.

    Attributes:
        unit_price: In the workspace money.
        qty: Units.
        trader: Code, or -1.
        guessed: No units were quoted: as many as are usually listed are taken.
    """

    unit_price: float
    qty: float
    trader: int
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Ladder:
    """The asks that stand, cheapest first, and the price of units beyond them.

    Attributes:
        steps: The honoured asks last seen together; none if no ask is believed.
        seen_us: When they were seen; None with no steps.
        level: The ask level, for `usual_qty` units, in the workspace money.
        usual_qty: Units that the level holds for.
        depth: Log rise of the unit price each time that `usual_qty` units more are bought.
        lots_of: Only multiples of this can be bought.
    """

    steps: tuple[Rung, ...]
    seen_us: int | None
    level: float
    usual_qty: float
    depth: float
    lots_of: int = 1

    def units_to_buy(self, units: float) -> float:
        """The least number of units >= `units` that is sold: whole lots."""
        return math.ceil(units / self.lots_of - 1e-9) * float(self.lots_of)

    def cost_of(self, units: float) -> float:
        """What buying `units` costs now in the workspace money, rounded up to whole lots.

        Walks the standing offers; beyond them the price goes on from the dearer of
        the last offer and the level, rising as past ladders of the item rose. From
        the level alone where the last offer is far from it: the next need not be.

        >>> Ladder((Rung(2.0, 10, -1), Rung(3.0, 10, -1)), 0, 2.5, 10, 0.0).cost_of(15)
        35.0
        >>> Ladder((), None, 2.5, 10, 0.0, lots_of=10).cost_of(15)
        50.0
        """
        left = self.units_to_buy(units)
        cost, last = 0.0, 0.0
        for step in self.steps:
            taken = min(step.qty, left)
            cost += taken * step.unit_price
            left -= taken
            last = step.unit_price
            if left <= 0:
                return cost
        if not self.steps:
            return self._cost_beyond(left, self._first_price())
        near = last <= _NEAR_LEVEL * self.level
        return cost + self._cost_beyond(left, max(self.level, last) if near else self.level)

    def _first_price(self) -> float:
        """What the first unit costs where nothing stands: the usual quantity is at the level."""
        return self.level * (self.depth / math.expm1(self.depth) if self.depth > 1e-12 else 1.0)

    def _cost_beyond(self, units: float, price: float) -> float:
        """Units bought at a price that rises by `depth` for each usual quantity."""
        rise = min(self.depth * units / self.usual_qty, 3.0)
        slope = rise / units if units > 0 else 0.0
        return price * (math.expm1(rise) / slope if slope > 1e-12 else units)


def group_quotes(track: Ints, at_us: Ints) -> Ints:
    """A number for each quote, the same for quotes of one track that were seen together.

    Sorted by track, then time. A group ends at a pause of `TOGETHER_US`, and
    after `LONGEST_LOOK_US` however dense the quotes are.
    """
    if len(track) == 0:
        return np.zeros(0, dtype=np.int64)
    new = np.ones(len(track), dtype=bool)
    new[1:] = (track[1:] != track[:-1]) | (np.diff(at_us) > TOGETHER_US)
    run = np.cumsum(new) - 1
    begin = at_us[np.flatnonzero(new)][run]
    block = (at_us - begin) // LONGEST_LOOK_US
    split = np.ones(len(track), dtype=bool)
    split[1:] = new[1:] | (block[1:] != block[:-1])
    return np.cumsum(split) - 1


@dataclass(frozen=True, eq=False)
class Looks:
    """One observation for each group of quotes, as flat arrays.

    Attributes:
        log_price: Log of the unit price of the usual quantity (asks: bought from the
            cheapest up; bids: sold from the dearest down; deals: the mean).
        units: Units seen, unknown ones counted as `unknown_qty`.
    """

    log_price: Floats
    units: Floats


def read_looks(
    group: Ints,
    log_value: Floats,
    *,
    side: Ints,
    qty: Floats,
    usual_qty: Floats,
    used: Bools,
) -> Looks:
    """The unit price of the usual quantity in each group; nan where no quote is used.

    Args:
        group: Ascending from 0.
        qty: Units, known.
        usual_qty: Units one buys of the item at a time, per quote.
        used: Whether a quote counts.
    """
    groups = int(group[-1]) + 1 if len(group) else 0
    taken = np.where(used, qty, 0.0)
    sizes = np.bincount(group, minlength=groups)
    if np.any(sizes > 1):
        key = np.where(side == BID, -log_value, log_value)
        order = np.lexsort((key, group))
        sorted_qty = taken[order]
        sums = np.cumsum(sorted_qty)
        begin = np.concatenate([[0], np.cumsum(sizes)[:-1]])
        base = np.where(begin > 0, sums[np.maximum(begin - 1, 0)], 0.0)
        above = sums - sorted_qty - base[group[order]]
        room = np.where(side[order] == DEAL, np.inf, usual_qty[order])
        walked = np.empty_like(taken)
        walked[order] = np.clip(room - above, 0.0, sorted_qty)
    else:
        walked = np.minimum(taken, np.where(side == DEAL, np.inf, usual_qty))
    units = np.bincount(group, weights=walked, minlength=groups)
    # relative to the group's first price, so that no magnitude overflows
    anchor = log_value[np.concatenate([[0], np.cumsum(sizes)[:-1]])] if groups else log_value
    relative = np.exp(np.clip(log_value - anchor[group], -30.0, 30.0))
    paid = np.bincount(group, weights=walked * relative, minlength=groups)
    with np.errstate(invalid="ignore", divide="ignore"):
        log_price = np.where(units > 0, anchor + np.log(paid / units), np.nan)
    seen = np.bincount(group, weights=taken, minlength=groups).astype(np.float64)
    return Looks(log_price, seen)


def depth_of_ladders(
    group: Ints, log_value: Floats, *, qty: Floats, usual_qty: float, at_us: Ints
) -> float:
    """Log rise per usual quantity, from an item's own past ladders; recent ones count more.

    Least squares through each ladder's mean of log price on units stood before it,
    drawn a little towards `PLAIN_DEPTH`, so that one short ladder does not say much.
    """
    if len(group) == 0:
        return PLAIN_DEPTH
    order = np.lexsort((log_value, group))
    group, log_value, qty = group[order], log_value[order], qty[order]
    _, first, inverse, sizes = np.unique(
        group, return_index=True, return_inverse=True, return_counts=True
    )
    sums = np.cumsum(qty)
    units = (sums - 0.5 * qty - (sums - qty)[first][inverse]) / usual_qty
    age_days = (at_us.max() - at_us[order]) / MICROSECONDS_A_DAY
    weight = np.exp(-age_days / 30.0) * np.where(sizes[inverse] > 1, 1.0, 0.0)
    x = units - (np.bincount(inverse, units) / sizes)[inverse]
    y = log_value - (np.bincount(inverse, log_value) / sizes)[inverse]
    plain_weight = 0.4
    rise = (plain_weight * PLAIN_DEPTH + np.sum(weight * x * y)) / (
        plain_weight + np.sum(weight * x * x)
    )
    return float(np.clip(rise, 0.0, 3.0))


def standing_ladder(
    at_us: Ints,
    unit_price: Floats,
    *,
    qty: Floats,
    trader: Ints,
    honoured: Bools,
    guessed: Bools | None = None,
) -> tuple[tuple[Rung, ...], int | None]:
    """The honoured asks of one look, cheapest first, and the time of the newest of them.

    Args:
        guessed: Whether nobody quoted the units; None: they were all quoted.
    """
    unsaid = np.zeros(len(qty), dtype=bool) if guessed is None else guessed
    rows = np.flatnonzero(honoured)
    rows = rows[np.lexsort((trader[rows], qty[rows], unit_price[rows]))]
    steps = tuple(
        Rung(float(unit_price[i]), float(qty[i]), int(trader[i]), bool(unsaid[i])) for i in rows
    )
    return steps, int(at_us[rows].max()) if len(rows) else None
