"""The best use of a purse that must last: what to buy today, and how far it will reach.

Pieces are made one after the other until all are done or the purse is empty. On
each evening (`played_evenings`) part k of the row is finished if

    paid today + fees by then + price later of all that was used beyond what was bought

is within the purse. Money bound in supplies that are not needed is missing for
others, so a quantity that is best for its own item need not be best here. Sought is
the greatest mean of

    worth of what is finished  +  money left and worth of leftovers where all is done.

Small cases are tried through; in others one item after the other is set to its
best, from several beginnings, until nothing improves.

Source: sample average approximation of a two-stage problem with recourse, Birge &
    Louveaux, Introduction to Stochastic Programming, 2nd ed. (Springer 2011),
    sections 1.1 and 9.1; setting one coordinate after the other: common practice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decide.stock.need import Floats, Ints

TRY_ALL = 2000
"""Combinations up to which every one is tried."""

SWEEPS = 8

LEADS = 1e-3
"""What money lacking counts while searching, as a share of itself."""

AS_GOOD = 0.005
"""A choice to begin with stays where the best is no more of the purse better."""


@dataclass(frozen=True, eq=False)
class PurseItem:
    """One item that can be bought ahead.

    Attributes:
        quantities: To choose from today, the first is 0, shape (choices,).
        paid: What each costs today, shape (choices,).
        later: later[m]: what m missing units cost later, rising; beyond its end the last
            unit's price goes on.
        brings: brings[m]: what m units left over bring; None for nothing.
        on_hand: Units there already.
    """

    quantities: Ints
    paid: Floats
    later: Floats
    brings: Floats | None = None
    on_hand: int = 0

    def later_cost(self, missing: Floats) -> Floats:
        """What these missing units cost later."""
        top = len(self.later) - 1
        last = float(self.later[-1] - self.later[-2]) if top else 0.0
        whole = np.ceil(missing - 1e-9)
        cost: Floats = np.interp(whole, np.arange(top + 1), self.later)
        cost += last * np.maximum(whole - top, 0.0)
        return cost

    def brought_by(self, over: Floats) -> Floats:
        """What these units left over bring."""
        if self.brings is None:
            return np.zeros(over.shape)
        return np.interp(over, np.arange(len(self.brings)), self.brings)


@dataclass(frozen=True, eq=False)
class PurseUse:
    """How the purse is used, and how far it reaches.

    Attributes:
        places: For each item, which of its quantities.
        paid: Money paid today.
        value: The mean that was sought, the purse itself not counted.
        spent: Money needed by the end of each part, shape (evenings, parts).
        budget: The purse.
    """

    places: tuple[int, ...]
    paid: float
    value: float
    spent: Floats
    budget: float

    @property
    def chance_finished(self) -> Floats:
        """Chance that each part is finished, shape (parts,)."""
        return np.asarray((self.spent <= self.budget * (1 + 1e-12)).mean(axis=0))

    def enough(self, chance: float) -> Floats:
        """Money that is enough by the end of each part with a chance, shape (parts,)."""
        return np.asarray(np.quantile(self.spent, chance, axis=0))

    @property
    def lacking(self) -> float:
        """Money lacking on average to finish all, 0 counted where nothing lacks."""
        return float(np.maximum(self.spent[:, -1] - self.budget, 0.0).mean())


class _Evenings:
    """Every choice's later cost and leftovers on every evening, worked out once."""

    def __init__(
        self,
        items: Sequence[PurseItem],
        used: Floats,
        *,
        cash: Floats,
        worth: Floats,
        budget: float,
    ) -> None:
        self.items, self.cash, self.budget = items, cash, budget
        self.worth = np.concatenate([[0.0], np.cumsum(worth)])
        self.later, self.left = [], []
        for number, item in enumerate(items):
            wanted = np.maximum(np.ceil(used[:, :, number] - 1e-6) - item.on_hand, 0.0)
            bought = item.quantities[:, None, None]
            self.later.append(item.later_cost(np.maximum(wanted - bought, 0.0)))
            over = np.maximum(item.quantities[:, None] - wanted[:, -1], 0.0)
            self.left.append(item.brought_by(over))

    def spent(self, places: Sequence[int]) -> Floats:
        """Money needed by the end of each part, shape (evenings, parts)."""
        total = self.cash.copy()
        for item, later, at in zip(self.items, self.later, places, strict=True):
            total += item.paid[at] + later[at]
        return total

    def brought(self, places: Sequence[int]) -> Floats:
        """What leftovers bring where all is done, shape (evenings,)."""
        total = np.zeros(len(self.cash))
        for left, at in zip(self.left, places, strict=True):
            total += left[at]
        return total

    def values(self, spent: Floats, brought: Floats) -> Floats:
        """The mean sought, over evenings; further choices in front are kept.

        Args:
            spent: Shape (..., evenings, parts).
            brought: Shape (..., evenings).
        """
        within = spent <= self.budget * (1 + 1e-12)
        finished = np.sum(np.logical_and.accumulate(within, axis=-1), axis=-1)
        rest = np.where(within[..., -1], self.budget - spent[..., -1] + brought, 0.0)
        return np.asarray(np.mean(self.worth[finished] + rest, axis=-1)) - self.budget

    def value(self, places: Sequence[int]) -> float:
        """The mean sought with these choices."""
        return float(self.values(self.spent(places), self.brought(places)))

    def best_of(self, number: int, places: Sequence[int]) -> tuple[int, float]:
        """The best choice for one item while the others stay."""
        item, at = self.items[number], places[number]
        others = self.spent(places) - item.paid[at] - self.later[number][at]
        other_left = self.brought(places) - self.left[number][at]
        room = self.budget * (1 + 1e-12) - (self.paid(places) - item.paid[at])
        spent = others + item.paid[:, None, None] + self.later[number]
        values = self.values(spent, other_left + self.left[number])
        # where no choice alone finishes more, one that lacks less leads there
        lacking = np.maximum(spent - self.budget, 0.0).mean(axis=(1, 2))
        values = values - LEADS * lacking
        values = np.where(item.paid <= room, values, -np.inf)
        best = int(np.argmax(values))
        return best, float(values[best])

    def paid(self, places: Sequence[int]) -> float:
        """Money paid today."""
        return float(sum(item.paid[at] for item, at in zip(self.items, places, strict=True)))


def use_purse(
    items: Sequence[PurseItem],
    used: Floats,
    *,
    cash: Floats,
    worth: Floats,
    budget: float,
    begin: Sequence[Sequence[int]] = (),
) -> PurseUse:
    """What to buy today of each item, so that the purse goes furthest.

    Args:
        used: Units used up by the end of each part, shape (evenings, parts, items).
        cash: Money needed by then besides: fees, services, shape (evenings, parts).
        worth: What each part is worth when finished, shape (parts,).
        budget: All the money there is, today and later, >= 0.
        begin: Choices to improve on besides buying nothing, each within the purse; the
            first of them that is nearly as good as the best is taken as it is.
    """
    evenings = _Evenings(items, used, cash=cash, worth=worth, budget=budget)
    if math.prod(len(each.quantities) for each in items) <= TRY_ALL:
        ways = itertools.product(*(range(len(each.quantities)) for each in items))
        allowed = [way for way in ways if evenings.paid(way) <= budget * (1 + 1e-12)]
    else:
        nothing = [0] * len(items)
        allowed = [_improve(evenings, start) for start in (nothing, *begin)]
    values = [evenings.value(way) for way in allowed]
    value, places = max(values), tuple(allowed[int(np.argmax(values))])
    for start in begin:
        if evenings.value(start) >= value - AS_GOOD * budget:
            value, places = evenings.value(start), tuple(start)
            break
    return PurseUse(places, evenings.paid(places), value, evenings.spent(places), budget)


def _improve(evenings: _Evenings, begin: Sequence[int]) -> tuple[int, ...]:
    places, reached = list(begin), -math.inf
    for _ in range(SWEEPS):
        value = reached
        for number in range(len(places)):
            places[number], value = evenings.best_of(number, places)
        if value <= reached + 1e-9 * abs(reached):
            break
        reached = value
    return tuple(places)
