"""The answer of a replay in rows, by piece and by route, and as the plain values of its JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from advisor.decide.replay.replay_sums import SettledDay, Ways, sum_supplies, sum_ways
from advisor.figures import counted
from advisor.tasks.replay_gaps import tell_unsettled
from advisor.tasks.replaying import Replay

HOW = (
    "Each morning's advice is what --as-of the evening before answers; it is settled on the "
    "asks last seen together that day and later, cheapest first, without those that are not "
    "believed. An item nobody looked at stands as seen before, for 7 days.",
    "Make or buy: one piece each day on which its price was seen. A route costs the mean units "
    "it uses. Habit: the way that is cheapest at the cheapest asks seen before that day. "
    "Hindsight: the cheapest way.",
    "Supplies: as many as advised at once; on the first later day at or below its reserve price "
    "what the mean need lacks; on the last day, when the need shows, what is missing, and "
    "leftovers are sold at the cheapest ask. Mean over the need. Habit: the mean need at once. "
    "Hindsight: need and prices known.",
    "Selling: a listing sells if it asks no more than the cheapest ask or the highest deal of a "
    "day, as many a day as the market takes; on the last day the rest goes to the highest bid, "
    "or for nothing. Habit: the cheapest ask seen before, left standing. Hindsight: the best "
    "days, and bids.",
)
"""How a replay is settled, in sentences."""

CAUTIONS = (
    "Luck is averaged out: this judges decisions and prices, not evenings.",
    "Routes, settings and your rulings on quotes count as they are today.",
    "What you had bought or listed yourself would have moved prices; none of that is in here.",
)


def rows_of_craft(days: Sequence[SettledDay]) -> Iterator[tuple[str, Ways, int]]:
    """By piece: its sums, and how often the advice was right."""
    for piece in dict.fromkeys(piece for day in days for piece in day.crafts):
        own = [day.crafts[piece] for day in days if piece in day.crafts]
        yield piece, sum_ways(own), sum(each.was_right for each in own)


def rows_of_stock(days: Sequence[SettledDay]) -> Iterator[tuple[str, Ways]]:
    """By route: the sums of all its items, and on how many mornings."""
    for route in dict.fromkeys(route for day in days for route, _ in day.stocks):
        own = [each for day in days for (name, _), each in day.stocks.items() if name == route]
        mornings = sum(any(name == route for name, _ in day.stocks) for day in days)
        sums = sum_supplies(own)
        yield route, Ways(sums.followed, sums.plain, sums.hindsight, mornings)


def rows_of_sales(days: Sequence[SettledDay]) -> Iterator[tuple[str, Ways, tuple[int, int]]]:
    """By piece: its sums, and how many were left over as advised and by habit."""
    for piece in dict.fromkeys(piece for day in days for piece in day.sales):
        own = [day.sales[piece] for day in days if piece in day.sales]
        left = (sum(each.unsold for each in own), sum(each.unsold_plain for each in own))
        yield piece, sum_ways(own), left


def won_by_day(day: SettledDay) -> float:
    """What the advice of one morning won against the plain habit, all three together."""
    crafts = sum(each.plain - each.followed for each in day.crafts.values())
    stocks = sum(each.paid_plain - each.paid for each in day.stocks.values())
    return crafts + stocks + sum(each.followed - each.plain for each in day.sales.values())


def cautions_of(answer: Replay) -> list[str]:
    """What to know beside the answer."""
    said = [
        f"left out on {counted(count, 'morning')}: {fault}"
        for fault, count in answer.left_out.items()
    ]
    sums, asked = answer.sums, answer.question
    if not sums.craft.settled:
        said.append("no make or buy could be settled: no piece was seen for sale on these days")
    else:
        said += answer.missing
    said += tell_unsettled(sums, within=asked.within)
    unseen = [str(score.days) for score in sums.forecast if not score.n]
    if unseen:
        said.append(f"no price was seen {', '.join(unseen)} days after a morning of these")
    return [*said, *CAUTIONS]


def replay_json(answer: Replay) -> dict[str, Any]:
    """The answer of `replay --json`; what does not exist is None."""
    sums = answer.sums
    craft, stock, sell = (_known(ways) for ways in (sums.craft, sums.stock, sums.sell))
    return {
        "from": answer.first.isoformat(),
        "to": answer.last.isoformat(),
        "money": answer.money,
        "pieces": list(answer.question.pieces),
        "count": answer.question.count,
        "within": answer.question.within,
        "forecast": [
            {
                "days": each.days,
                "n": each.n,
                "inside_80": each.inside_80,
                "inside_95": each.inside_95,
                "error": each.error,
                "error_last_quote": each.error_last_quote,
            }
            for each in sums.forecast
        ],
        "stock": {
            "paid": stock["followed"],
            "paid_plain": stock["plain"],
            "paid_hindsight": stock["hindsight"],
            "settled": stock["settled"],
        },
        "craft": {
            "followed": craft["followed"],
            "hindsight": craft["hindsight"],
            "plain": craft["plain"],
            "days_right": sums.craft_right,
            "days": sums.craft.settled,
        },
        "sell": sell | {"unsold": _unsold(sums.days)},
        "by_day": [_day_json(day) for day in sums.days],
        "how": list(HOW),
        "cautions": cautions_of(answer),
    }


def _unsold(days: Sequence[SettledDay]) -> dict[str, int]:
    own = [each for day in days for each in day.sales.values()]
    return {
        "followed": sum(each.unsold for each in own),
        "plain": sum(each.unsold_plain for each in own),
    }


def _known(ways: Ways) -> dict[str, float | int | None]:
    known = ways.settled > 0
    return {
        "followed": ways.followed if known else None,
        "plain": ways.plain if known else None,
        "hindsight": ways.hindsight if known else None,
        "settled": ways.settled,
    }


def _day_json(day: SettledDay) -> dict[str, Any]:
    return {
        "day": day.day,
        "craft": [
            {"piece": piece, "followed": each.followed, "plain": each.plain,
             "hindsight": each.hindsight}
            for piece, each in day.crafts.items()
        ],
        "stock": [
            {"route": route, "item": item, "paid": each.paid, "paid_plain": each.paid_plain,
             "paid_hindsight": each.paid_hindsight}
            for (route, item), each in day.stocks.items()
        ],
        "sell": [
            {"piece": piece, "followed": each.followed, "plain": each.plain,
             "hindsight": each.hindsight}
            for piece, each in day.sales.items()
        ],
    }  # fmt: skip
