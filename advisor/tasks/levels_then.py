"""What an item cost at a moment gone by, for what was never bought through the log."""

from __future__ import annotations

from bisect import bisect_right
from statistics import median
from typing import TYPE_CHECKING

from advisor.quotes import SIDES

if TYPE_CHECKING:
    from advisor.tasks.pricing import Pricing

ASKS_TAKEN = 5
ASK, DEAL = SIDES.index("ask"), SIDES.index("deal")


class LevelsThen:
    """Prices of one unit in the workspace money, from the quotes that are believed.

    The price at a moment is the median of the last few asks by then (of deals, where
    nobody asks); before the first one, of the first few. What-if prices hold always.
    """

    def __init__(self, pricing: Pricing) -> None:
        self._pricing = pricing
        self._kept = 1.0 - float(pricing.settings.trade.sale_fee)
        self._seen: dict[str, tuple[list[int], list[float]]] = {}

    def buying(self, item: str, at_us: int) -> float | None:
        """What one unit cost; None where no price was ever seen."""
        name = self._pricing.name(item)
        if name in self._pricing.fixed:
            return self._pricing.fixed[name]
        if name not in self._seen:
            self._seen[name] = self._read(name)
        times, values = self._seen[name]
        if not times:
            return None
        last = max(bisect_right(times, at_us), min(ASKS_TAKEN, len(times)))
        return median(values[max(0, last - ASKS_TAKEN) : last])

    def selling(self, item: str, at_us: int) -> float | None:
        """What one unit brought, net of the fee: as far below the ask as it is now."""
        cost, now = self.buying(item, at_us), self.sale_now(item)
        levels = self._pricing.levels(self._pricing.name(item))
        if cost is None or levels is None or levels.ask is None or now is None:
            return now if cost is None else cost * self._kept
        return cost * min(1.0, now / levels.ask.level)

    def sale_now(self, item: str) -> float | None:
        """What one unit would bring now, listed in its usual time, net of the fee."""
        name = self._pricing.name(item)
        if name in self._pricing.fixed:
            return self._pricing.fixed[name] * self._kept
        rate = self._pricing.market.rates.now(name)
        if rate is not None:
            return rate.value
        levels = self._pricing.levels(name)
        level = None if levels is None else levels.sale or levels.bid
        return None if level is None else level.level

    def _read(self, name: str) -> tuple[list[int], list[float]]:
        series, levels = self._pricing.series.get(name), self._pricing.levels(name)
        if series is None or levels is None:
            return [], []
        for side in (ASK, DEAL):
            rows = [
                (int(at_us), levels.values[int(quote)])
                for quote, at_us, own in zip(series.ids, series.at_us, series.side, strict=True)
                if own == side and int(quote) in levels.values and int(quote) not in levels.screened
            ]
            if rows:
                return [at_us for at_us, _ in rows], [value for _, value in rows]
        return [], []
