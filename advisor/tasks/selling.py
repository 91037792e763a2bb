"""When to sell and at what price: gathers levels, demand and the days, and answers."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.decide.sell.sell_advice import SellAdvice, weigh_sale
from advisor.decide.sell.sell_reasons import SellStory, said_days, sell_cautions, sell_reasons
from advisor.errors import BadInput, WrongUse
from advisor.tasks.breaking_up import BreakUp
from advisor.tasks.craft_news import doubt_prices
from advisor.tasks.pricing import Pricing, known_item
from advisor.tasks.routing import RouteBook
from advisor.tasks.sale_markets import FoundMarket, find_sale_market
from advisor.tasks.sell_compared import Earning, best_break_up, compare_earnings
from advisor.tasks.stock_markets import season_days_left

MOST_COUNT = 1000
MOST_DAYS = 120


@dataclass(frozen=True)
class Sell:
    """The answer.

    Attributes:
        piece: The book's name of it.
        count, days: How many, and the days to sell in.
        advice: The decision.
        found: The market it is sold in, and what that rests on.
        apart: The best way to take one apart; None where no step does.
        compared: What an hour earns by this and by other ways, most first.
        story: What the sentences are made from.
        reasons, cautions: Sentences.
        doubts: Those of the cautions that tell of doubtful quotes.
        pricing: The prices that all rests on.
    """

    piece: str
    count: int
    days: int
    advice: SellAdvice
    found: FoundMarket
    apart: BreakUp | None
    compared: tuple[Earning, ...]
    story: SellStory
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]
    pricing: Pricing


def advise_sell(
    book: RouteBook, pricing: Pricing, *, piece: str, count: int, within: int, every: int = 1
) -> Sell:
    """Answer when to sell some pieces within some days, and at which asking price.

    Args:
        every: Days that an ask stands before one lists anew.
    Raises: WrongUse: a count or days out of range. BadInput: an item nothing is known of,
        or money. CannotAnswer: nobody is seen buying or selling it; the season is over.
    """
    if not 1 <= count <= MOST_COUNT:
        raise WrongUse(f"--count {count} is out of range", right=f"1 to {MOST_COUNT}")
    if not 1 <= within <= MOST_DAYS:
        raise WrongUse(f"--within {within} is out of range", right=f"1 to {MOST_DAYS} days")
    if not 1 <= every <= MOST_DAYS:
        raise WrongUse(f"--relist {every} is out of range", right=f"1 to {MOST_DAYS} days")
    name = _known_piece(piece, pricing)
    notes: list[str] = []
    days, left = within, season_days_left(pricing)
    if left is not None and days > left:
        days = max(left, 1)
        ends = f"in {said_days(left)}" if left else "today"
        notes.append(f"The season ends {ends}: the time to sell in is cut to {said_days(days)}.")
    apart = best_break_up(book, pricing, name)
    found = find_sale_market(
        name, pricing, days=days, every=every, broken_up=0.0 if apart is None else apart.value
    )
    advice = weigh_sale(count, found.market, others=found.others)
    compared = compare_earnings(
        book,
        pricing,
        days=days,
        every=every,
        piece=name,
        proceeds_each=advice.proceeds / count,
    )
    doubts = doubt_prices([name], pricing)
    story = SellStory(
        piece=name,
        money=pricing.market.money,
        count=count,
        advice=advice,
        market=found.market,
        season_left=left,
        demand_source=found.demand.source,
        ask_level=found.ask_level,
        taken_apart=None if apart is None else (apart.step, apart.value),
    )
    return Sell(
        piece=name,
        count=count,
        days=days,
        advice=advice,
        found=found,
        apart=apart,
        compared=compared.earnings,
        story=story,
        reasons=tuple(sell_reasons(story)),
        cautions=tuple(
            sell_cautions(story, notes=[*notes, *doubts, *compared.notes, *pricing.market.cautions])
        ),
        doubts=tuple(doubts),
        pricing=pricing,
    )


def _known_piece(piece: str, pricing: Pricing) -> str:
    name = pricing.name(piece)
    if name not in pricing.fixed:
        name = known_item(piece, pricing.names)
    if pricing.market.rates.now(name) is not None:
        raise BadInput("this is money", right="name a piece to sell", item=name)
    return name
