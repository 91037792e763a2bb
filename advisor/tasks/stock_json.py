"""The stock answer as the plain values of its JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.decide.stock.later_days import ReservePrice
from advisor.decide.stock.supply import SupplyAdvice
from advisor.figures import amount
from advisor.routes.route_json import QUANTILES
from advisor.tasks.stock_items import SupplyAnswer
from advisor.tasks.stock_purse import PursePlan
from advisor.tasks.stocking import Stock
from advisor.times import us_to_rfc3339

CURVE_POINTS = 6


def stock_json(stock: Stock) -> dict[str, Any]:
    """The answer of `advise stock ROUTE --json`; what does not exist is None."""
    first, *others = stock.orders
    return {
        "route": first.route,
        "pieces": first.pieces,
        "also": [{"route": each.route, "pieces": each.pieces} for each in others],
        "money": stock.pricing.market.money,
        "as_of": us_to_rfc3339(stock.pricing.market.as_of_us),
        "within": stock.days,
        "items": [_item_json(each, stock) for each in stock.supplies],
        "spend_now": stock.spend_now,
        "expected_cost": stock.expected_cost,
        "plain_cost": stock.plain_cost,
        "chance_any_short": stock.chance_any_short,
        "together": _together_json(stock),
        "budget": None if stock.purse is None else _purse_json(stock.purse, stock.expected_cost),
        "reasons": list(stock.reasons),
        "cautions": list(stock.cautions),
    }


def _purse_json(purse: PursePlan, expected_cost: float) -> dict[str, Any]:
    return {
        "purse": purse.budget,
        "spent": purse.paid,
        "keep": max(purse.budget - purse.paid, 0.0),
        "expected_cost": expected_cost,
        "lower": purse.lower,
        "start": [{"route": each.route, "pieces": each.pieces} for each in purse.started],
        "chance_started": purse.chance_started,
        "chance_all": purse.chance_all,
        "lacking": purse.lacking,
        "parts": [
            {
                "route": each.route,
                "pieces": each.pieces,
                "chance": each.chance,
                "enough_80": each.enough_80,
                "start": each.started,
            }
            for each in purse.parts
        ],
    }


def _together_json(stock: Stock) -> list[dict[str, Any]]:
    """Items that are used up at one pace, and which of them runs out first."""
    chances = {
        each.item: each.advice.chance_short for each in stock.supplies if each.market.stockable
    }
    groups = [[item for item in group if item in chances] for group in stock.together]
    return [
        {"items": group, "first_short": max(group, key=chances.__getitem__)}
        for group in groups
        if len(group) > 1
    ]


def _item_json(supply: SupplyAnswer, stock: Stock) -> dict[str, Any]:
    advice, offer = supply.advice, supply.offer
    return {
        "item": supply.item,
        "use": {
            "mean": supply.use.mean,
            "quantiles": {share: supply.use.quantile(float(share)) for share in QUANTILES},
        },
        "on_hand": supply.on_hand,
        "buy_now": advice.buy_now,
        "spend_now": float(advice.spent[advice.place]),
        "pay_at_most": advice.pay_at_most,
        "offer": None
        if offer is None
        else {
            "price": offer.price,
            "chance_within": offer.chance_within,
            "units": offer.units,
            "days": offer.days,
            "mean_unit_cost": offer.mean_unit_cost,
        },
        "reserve": [
            {"day": each.day, "price": each.price, "units": each.units}
            for each in reserve_of(supply)
        ],
        "expected_cost": advice.expected_cost,
        "plain_qty": advice.plain_qty,
        "plain_cost": advice.plain_cost,
        "chance_short": advice.chance_short,
        "lots": [
            {
                "qty": int(lot.qty) if lot.qty.is_integer() else lot.qty,
                "unit_price": lot.unit_price,
                "trader": stock.traders.get(lot.trader),
                "risk": lot.risk,
            }
            for lot in advice.lots
        ],
        "curve": [
            {
                "qty": point.qty,
                "spend_now": point.spent_now,
                "expected_cost": point.expected_cost,
                "chance_short": point.chance_short,
            }
            for point in (advice.at(qty) for qty in curve_quantities(advice))
        ],
        "post": post_line(supply, stock.pricing.market.money),
    }


def reserve_of(supply: SupplyAnswer) -> list[ReservePrice]:
    """Up to which price to buy more on each later day; nothing for what is not stocked."""
    return supply.advice.reserve() if supply.market.stockable else []


def curve_quantities(advice: SupplyAdvice) -> list[int]:
    """Round quantities from none to what is enough 19 times in 20, and the advised one."""
    lot = advice.question.offers.ladder.lots_of
    most = max(advice.question.need.quantile(0.95), advice.buy_now, lot)
    rough = most / CURVE_POINTS
    power = 10.0 ** np.floor(np.log10(max(rough, 1.0)))
    nice = next(each * power for each in (1, 2, 5, 10) if each * power >= rough)
    step = max(lot, int(np.ceil(nice / lot)) * lot)
    round_ones = range(0, int(np.ceil(most / step)) * step + 1, step)
    return sorted({*round_ones, advice.buy_now})


def post_line(supply: SupplyAnswer, money: str) -> str | None:
    """The line to put up; None where no bid is better than the asks."""
    offer = supply.offer
    if offer is None:
        return None
    until = "by tomorrow" if offer.days == 1 else f"within {offer.days} days"
    bid = f"{amount(offer.price, digits=3)} {money} each"
    return f"Wanted: {offer.units} {supply.item} at {bid}, {until}"
