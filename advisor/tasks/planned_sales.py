"""What the first, second, ... piece of an item adds to the proceeds of some days of selling."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.decide.sell.sale_plan import plan_sale
from advisor.errors import MakeworthError
from advisor.names import name_key
from advisor.tasks.pricing import Pricing
from advisor.tasks.sale_markets import find_sale_market
from advisor.tasks.ways_to_earn import SERVICE, Way


def plan_sales(
    ways: Iterable[Way], pricing: Pricing, *, days: int, most: int, every: int = 1
) -> tuple[dict[str, list[float]], list[str]]:
    """Net gains of each piece more, planned as `advise sell` plans them; services left out.

    Args:
        days: Days to sell in.
        most: Pieces planned of one item.
        every: Days that an ask stands.
    Returns: By the key of the item, empty where its sale cannot be planned; and why, in
        sentences.
    """
    gains: dict[str, list[float]] = {}
    notes: list[str] = []
    for way in ways:
        name = pricing.name(way.sells)
        if way.kind == SERVICE or name_key(name) in gains:
            continue
        try:
            market = find_sale_market(name, pricing, days=days, every=every).market
        except MakeworthError as fault:
            notes.append(f"{way.sells} is not planned: {fault}.")
            gains[name_key(name)] = []
            continue
        plan = plan_sale(
            most, market.periods(most), kept=market.kept, leftover=market.left_over(most)
        )
        gains[name_key(name)] = [plan.worth_of_one(0, count) for count in range(1, most + 1)]
    return gains, notes
