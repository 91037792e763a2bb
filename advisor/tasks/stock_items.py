"""Each supply answered: how many now, and what to bid; ways to the market shared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.supplies_together import share_trip
from advisor.decide.stock.supply import SupplyAdvice, weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.decide.stock.wanted_post import WantedOffer, best_offer
from advisor.tasks.stock_markets import SupplyMarket
from advisor.tasks.stock_needs import SupplyNeeds

POSTS_TRIED = 8
"""Sizes of a wanted post that are tried, up to the mean need."""


@dataclass(frozen=True)
class SupplyAnswer:
    """One item, answered.

    Attributes:
        item: The book's name of it.
        use: The law of the units used.
        on_hand: Units there already.
        advice: How many now, and what later.
        market: What it rests on.
        offer: What to bid in a wanted post; None where no bid is better than the asks.
    """

    item: str
    use: NeedLaw
    on_hand: int
    advice: SupplyAdvice
    market: SupplyMarket
    offer: WantedOffer | None = None


def answer_supplies(
    needs: SupplyNeeds,
    markets: Mapping[str, SupplyMarket],
    *,
    days: int,
    trip_cost: float,
    money_rate: float,
) -> list[SupplyAnswer]:
    """How many of each item to buy now.

    Args:
        needs: What is used, and what is there.
        markets: By item.
        days: Until the last day.
        trip_cost: Money for going to the market once more.
        money_rate: What a day of money tied up costs, as a share.
    """
    questions = {
        item: SupplyQuestion(
            item=item,
            need=use.less(needs.on_hand[item]),
            offers=markets[item].offers,
            walk=markets[item].walk,
            days=days,
            leftover=markets[item].leftover,
            money_rate=money_rate,
        )
        for item, use in needs.use.items()
    }
    stocked = {item: each for item, each in questions.items() if markets[item].stockable}
    trips = _trips(stocked, needs, trip_cost) if trip_cost else {}
    answers = []
    for item, question in questions.items():
        if item in stocked:
            advice = weigh_supply(replace(question, trip_cost=trips.get(item, 0.0)))
        else:
            advice = _paid_when_used(question)
        answers.append(
            SupplyAnswer(item, needs.use[item], needs.on_hand[item], advice, markets[item])
        )
    return answers


def _trips(
    questions: Mapping[str, SupplyQuestion], needs: SupplyNeeds, trip_cost: float
) -> dict[str, float]:
    """The part of a way to the market that each item bears: one fetches a whole group."""
    parts: dict[str, float] = {}
    for group in needs.together:
        items = [item for item in group if item in questions]
        if not items:
            continue
        alone = [weigh_supply(replace(questions[item], days=1)) for item in items]
        chances = [
            np.array([each.question.need.chance_above(qty) for qty in each.quantities.tolist()])
            for each in alone
        ]
        shares = share_trip([each.totals for each in alone], chances, trip_cost=trip_cost)
        parts.update(zip(items, shares, strict=True))
    return parts


def _paid_when_used(question: SupplyQuestion) -> SupplyAdvice:
    """What cannot be stocked is bought one by one, each at the price of its day."""
    ladder = replace(question.offers.ladder, steps=(), depth=0.0, lots_of=1)
    advice = weigh_supply(replace(question, offers=OffersNow(ladder)))
    nothing = int(np.flatnonzero(advice.quantities == 0)[0])
    cost = float(advice.totals[nothing])
    return replace(advice, place=nothing, plain_qty=0, plain_cost=cost)


def find_offer(supply: SupplyAnswer) -> WantedOffer | None:
    """The wanted post that saves most against buying from the asks, of several sizes."""
    advice, sellers = supply.advice, supply.market.sellers
    if sellers is None or not supply.market.stockable or advice.plain_qty == 0:
        return None
    lot, days = advice.question.offers.ladder.lots_of, advice.question.days
    sizes = np.linspace(0, max(advice.plain_qty, advice.buy_now), POSTS_TRIED + 1)[1:]
    sizes = np.unique(np.ceil(sizes / lot).astype(np.int64) * lot)
    worth = advice.later.cost_from(np.append(0, sizes))
    best, saved = None, 0.0
    for units, value in zip(sizes.tolist(), (worth[0] - worth[1:]).tolist(), strict=True):
        offer = best_offer(sellers, units, days=days, otherwise=value / units)
        if offer is not None and value - units * offer.mean_unit_cost > saved:
            best, saved = offer, value - units * offer.mean_unit_cost
    return best
