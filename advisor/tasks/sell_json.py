"""The answer to when and at what price to sell as the plain values of its JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from advisor.decide.sell.sell_advice import AT_ONCE
from advisor.figures import amount
from advisor.tasks.sell_compared import Earning
from advisor.tasks.selling import Sell
from advisor.times import us_to_rfc3339


def sell_json(sell: Sell) -> dict[str, Any]:
    """The answer of `advise sell PIECE --json`; what does not exist is None."""
    advice, pricing, demand = sell.advice, sell.pricing, sell.found.demand.known
    return {
        "piece": sell.piece,
        "count": sell.count,
        "within": sell.days,
        "money": pricing.market.money,
        "as_of": us_to_rfc3339(pricing.market.as_of_us),
        "level": sell.story.market.level,
        "ask_now": advice.ask_now,
        "sell_at_once": advice.sell_at_once,
        "schedule": [
            {
                "day": each.day,
                "left": each.left,
                "ask": each.ask,
                "sold_by_then": each.sold_by_then,
                "asks": list(each.asks),
            }
            for each in advice.days
        ],
        "expected_proceeds": advice.proceeds,
        "floor": advice.floor,
        "verdict": advice.verdict,
        "against": [
            {"what": "one ask that stays", "proceeds": advice.one_ask},
            {"what": "all at once to bidders", "proceeds": advice.at_bids},
        ],
        "bidders_want": advice.bidders_want,
        "market_takes": advice.market_takes,
        "demand": {
            "a_day": demand.a_day,
            "low_95": demand.low_95,
            "high_95": demand.high_95,
            "sold": demand.sold,
            "days": demand.days,
            "assumed": demand.assumed,
            "assumed_counts_as": demand.worth,
        },
        "undercut": None
        if advice.undercut is None
        else {"ask": advice.undercut[0], "proceeds": advice.undercut[1]},
        "taken_apart": None
        if sell.apart is None
        else {"route": sell.apart.route, "step": sell.apart.step, "value": sell.apart.value},
        "compare": earnings_json(sell.compared),
        "post": post_line(sell),
        "reasons": list(sell.reasons),
        "cautions": list(sell.cautions),
    }


def earnings_json(earnings: Sequence[Earning]) -> list[dict[str, Any]]:
    """What each way earns, in the order given."""
    return [
        {
            "what": each.what,
            "kind": each.kind,
            "profit_per_hour": each.profit_per_hour,
            "profit": each.profit,
            "profit_per_money": each.profit_per_money,
        }
        for each in earnings
    ]


def post_line(sell: Sell) -> str | None:
    """The line to put up; None where nothing is to be listed now."""
    if sell.advice.verdict == AT_ONCE:
        return None
    listed = sell.count - sell.advice.sell_at_once
    price = f"{amount(sell.advice.ask_now, digits=3)} {sell.pricing.market.money}"
    return f"Offered: {listed} {sell.piece} at {price} each"
