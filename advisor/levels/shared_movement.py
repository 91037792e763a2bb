"""What moves many prices together: the rates of the moneys they are asked in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.levels.rates import Rates
from advisor.levels.valuing import ValuedQuotes

_RECENT_QUOTES = 10


@dataclass(frozen=True, slots=True)
class SharedMovement:
    """Moving one money's rate by x (log) moves each item's price by its exposure times x.

    Attributes:
        rate_log_sd: How unsure each money's rate is now, log scale; 0 for the workspace money.
        exposure: By item, then money: the share of its recent quotes in that money. The
            money itself has exposure 1. Moneys of no exposure are left out.
    """

    rate_log_sd: Mapping[str, float]
    exposure: Mapping[str, Mapping[str, float]]


def find_shared_movement(quotes: ValuedQuotes, *, rates: Rates) -> SharedMovement:
    """Which money's rate each item's price hangs on, from its last quotes."""
    log_sd = {}
    for name in rates.moneys:
        rate = rates.now(name)
        if rate is not None:
            log_sd[name] = rate.log_sd
    exposure: dict[str, dict[str, float]] = {
        name: {name: 1.0} for name in log_sd if name != rates.money
    }
    foreign = [k for k, name in enumerate(quotes.moneys) if name != rates.money and name in log_sd]
    if not foreign or len(quotes.ids) == 0:
        return SharedMovement(log_sd, exposure)
    item = quotes.item
    order = np.lexsort((-quotes.at_us, item))
    order = order[quotes.valued[order]]
    rank = np.arange(len(order)) - np.searchsorted(item[order], item[order], side="left")
    recent = order[rank < _RECENT_QUOTES]
    total = np.bincount(item[recent], minlength=len(quotes.items))
    for code in foreign:
        part = np.bincount(item[recent], quotes.money[recent] == code, minlength=len(quotes.items))
        for k in np.flatnonzero(part > 0):
            name = quotes.items[k]
            if name not in log_sd:
                exposure.setdefault(name, {})[quotes.moneys[code]] = float(part[k] / total[k])
    return SharedMovement(log_sd, exposure)
