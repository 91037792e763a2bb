"""The evening's plan as the plain values of its JSON."""

from __future__ import annotations

from typing import Any

from advisor.tasks.evening import Evening
from advisor.tasks.sell_json import earnings_json
from advisor.times import us_to_rfc3339


def evening_json(evening: Evening) -> dict[str, Any]:
    """The answer of `advise evening --json`; what does not exist is None."""
    story, pricing = evening.story, evening.pricing
    return {
        "hours": story.hours,
        "budget": story.budget,
        "within": story.within,
        "money": pricing.market.money,
        "as_of": us_to_rfc3339(pricing.market.as_of_us),
        "verdict": "work" if evening.planned else "rest",
        "plan": [
            {
                "what": each.way.what,
                "kind": each.way.kind,
                "route": each.way.route,
                "sells": each.way.sells,
                "count": each.count,
                "minutes": each.minutes,
                "spent": each.spent,
                "profit": each.profit,
            }
            for each in evening.planned
        ],
        "minutes": story.minutes,
        "spent": story.spent,
        "profit": story.profit,
        "chance_time": story.chance_time,
        "chance_purse": story.chance_purse,
        "worth_of_hour": story.worth_of_hour,
        "worth_of_half_the_purse_more": story.worth_of_purse,
        "compare": earnings_json(evening.compared),
        "reasons": list(evening.reasons),
        "cautions": list(evening.cautions),
    }
