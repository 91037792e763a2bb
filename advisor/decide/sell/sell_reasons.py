"""The answer to when and at what price to sell, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.decide.sell.sale_market import SaleMarket
from advisor.decide.sell.sell_advice import AT_ONCE, HOLD, SellAdvice
from advisor.figures import amount, percent

NOTICED = 0.02
"""A move of prices by less than this in the days to sell in is not worth a sentence."""


@dataclass(frozen=True)
class SellStory:
    """What the sentences tell.

    Attributes:
        piece, money: Names.
        count: Pieces to sell.
        advice, market: The answer, and what it rests on.
        season_left: Days until the season ends; None outside every season.
        demand_source: Where the number sold a day comes from, as a sentence; None: settings.
        ask_level: What others ask; None: nobody asks.
        taken_apart: The step that takes one apart, and what that brings; None: none does.
    """

    piece: str
    money: str
    count: int
    advice: SellAdvice
    market: SaleMarket
    season_left: int | None
    demand_source: str | None
    ask_level: float | None
    taken_apart: tuple[str, float] | None = None


def sell_reasons(story: SellStory) -> list[str]:
    """Why, the decision first."""
    return [
        _verdict(story),
        *_against(story),
        *_undercutting(story),
        *_trend(story),
        _course(story),
        _floor(story),
    ]


def said_days(days: int) -> str:
    """So many days, in words that fit one as well."""
    return "1 day" if days == 1 else f"{days} days"


def _verdict(story: SellStory) -> str:
    advice, money = story.advice, story.money
    if advice.verdict == AT_ONCE:
        return (
            f"Sell at once to those who bid: {amount(advice.at_bids)} {money} for all, and "
            "no asking price brings more in the time there is."
        )
    if advice.verdict == HOLD:
        return (
            f"Hold: waiting is worth more than the price of today, so ask no less than "
            f"{amount(advice.ask_now)} {money} now{_listing_later(advice)}."
        )
    said = f"List at {amount(advice.ask_now)} {money} each"
    if advice.sell_at_once:
        said += f", and sell {advice.sell_at_once} of the {story.count} at once to those who bid"
    return f"{said}: {amount(advice.proceeds)} {money} in all on average, the fee taken off."


def _listing_later(advice: SellAdvice) -> str:
    if advice.list_from is None:
        return ""
    day = next(each for each in advice.days if each.day == advice.list_from)
    return f", and list from day {day.day} on, at about {amount(day.ask)}"


def _against(story: SellStory) -> list[str]:
    advice = story.advice
    if advice.verdict == AT_ONCE:
        return []
    parts = [f"the best ask that never moves would bring {amount(advice.one_ask)}"]
    if advice.at_bids is not None:
        some = advice.bidders_want < story.count
        what = f"the {advice.bidders_want} that are wanted" if some else "all"
        parts.append(f"selling {what} at once to those who bid {amount(advice.at_bids)}")
    return [f"Against that, {', '.join(parts)} {story.money}."]


def _undercutting(story: SellStory) -> list[str]:
    advice = story.advice
    if advice.undercut is None or advice.verdict == AT_ONCE:
        return []
    ask, proceeds = advice.undercut
    units = sum(units for _, units in advice.below)
    return [
        f"Others have {amount(units)} standing below that, the cheapest at "
        f"{amount(advice.below[0][0])}: asking {amount(ask)} to undercut it would bring "
        f"{amount(proceeds)} in all."
    ]


def _trend(story: SellStory) -> list[str]:
    market = story.market
    change = market.level_on(market.days) / market.level - 1.0
    if abs(change) < NOTICED:
        return []
    way = "rise" if change > 0 else "fall"
    return [f"Prices are expected to {way} by {percent(abs(change))} until the last day."]


def _course(story: SellStory) -> str:
    advice, market = story.advice, story.market
    last = advice.days[-1]
    listed = last.sold_by_then - sum(day.at_once for day in advice.days)
    return (
        f"The market takes {amount(advice.market_takes, digits=2)} of yours in "
        f"{said_days(market.days)} at {amount(market.level)} {story.money}; asked for as advised, "
        f"{amount(max(listed, 0.0), digits=2)} are sold from your listing on average."
    )


def _floor(story: SellStory) -> str:
    said = (
        f"Keep or break up rather than sell one under {amount(story.advice.floor)} "
        f"{story.money} today: so much it adds to what the others bring."
    )
    if story.taken_apart is None:
        return said
    step, value = story.taken_apart
    return f"{said} Taken apart by {step!r} one brings {amount(value)}."


def sell_cautions(story: SellStory, *, notes: Sequence[str]) -> list[str]:
    """What to beware of; notes of other parts come first."""
    cautions = list(dict.fromkeys(notes))
    if story.demand_source is not None:
        cautions.append(story.demand_source)
    cautions.append(_buyers(story))
    if story.count > story.advice.market_takes:
        cautions.append(_too_many(story))
    if story.advice.at_bids is None:
        worth = "nothing" if not story.market.leftover else amount(story.market.leftover)
        cautions.append(
            f"Nobody is seen bidding: what is not sold in time is taken to bring {worth}."
        )
    else:
        cautions.append(_bids(story))
    if story.season_left is not None and story.season_left <= story.market.days:
        worth = "nothing" if not story.market.worth_left else amount(story.market.worth_left)
        cautions.append(f"The season ends on the last day: what is then left is worth {worth}.")
    often = "every day" if story.market.every == 1 else f"every {story.market.every} days"
    cautions.append(
        f"List anew {often} at the day's ask, sooner when the price moves: asks are for prices "
        "as expected today."
    )
    return cautions


def _buyers(story: SellStory) -> str:
    if story.ask_level is None or story.ask_level <= story.market.level:
        return (
            "Assumed, not seen: how many buy at a price above the level, for no dearer asks stand."
        )
    return (
        f"Assumed, not seen: a quarter as many buy at {amount(story.ask_level)}, where others "
        f"ask, as at {amount(story.market.level)}, where listings sell."
    )


def _bids(story: SellStory) -> str:
    if not story.market.bidders:
        return (
            "How many bidders want is not said: bids are taken to stand for every piece at one "
            "price; many pieces at once bring less."
        )
    wanted = amount(sum(units for _, units in story.market.bidders))
    return f"As many as bidders are seen to want, {wanted}, are taken to be wanted each day."


def _too_many(story: SellStory) -> str:
    days, takes = story.market.days, amount(story.advice.market_takes, digits=2)
    until = " until the season ends" if (story.season_left or days + 1) <= days else ""
    return (
        f"More than the market takes: about {takes} in {said_days(days)}{until}, and you have "
        f"{story.count}; the rest goes to those who bid, or is left."
    )
