"""The stock answer in sentences: what to buy, what to wait for, what to beware of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.decide.stock.buying_now import LEAST_FALL
from advisor.decide.stock.no_resale import LOST_RESELLING
from advisor.decide.stock.supply import SupplyAdvice
from advisor.decide.stock.wanted_post import WantedOffer
from advisor.figures import amount, percent

ITEMS_TOLD = 3
LIKELY_ENOUGH = 0.95


@dataclass(frozen=True)
class StockStory:
    """What the sentences tell of one item; `trust`: of its traders who failed before."""

    item: str
    advice: SupplyAdvice
    stockable: bool
    offer: WantedOffer | None
    offer_assumptions: tuple[str, ...]
    trust: tuple[str, ...] = ()

    @property
    def price_now(self) -> float | None:
        """Mean unit price of what is bought today; None where nothing is."""
        bought = self.advice.buy_now
        return None if bought == 0 else self.advice.at(bought).spent_now / bought


def stock_reasons(
    stories: Sequence[StockStory], *, money: str, days: int, purse: Sequence[str] = ()
) -> list[str]:
    """Why it is best, the dearest items first.

    Args:
        purse: Sentences on the purse; they come first.
    """
    total = sum(each.advice.expected_cost for each in stories)
    plain = sum(each.advice.plain_cost for each in stories)
    said = [
        *purse,
        f"All supplies come to {amount(total)} {money} on average this way, less what leftovers "
        f"bring; buying the mean need today and the rest when it runs out, to {amount(plain)}.",
    ]
    ranked = sorted(stories, key=lambda each: -each.advice.expected_cost)
    for each in ranked[:ITEMS_TOLD]:
        said.append(_about_item(each, money=money, days=days))
    return said + [sentence for each in ranked for sentence in each.trust]


def _about_item(story: StockStory, *, money: str, days: int) -> str:
    advice, need = story.advice, story.advice.question.need
    if need.most == 0:
        return f"{story.item}: what is on hand is enough."
    many = (
        f"{story.item}: {amount(need.mean)} still needed on average, {need.quantile(0.95)} or more "
        "one time in twenty"
    )
    if not story.stockable:
        return f"{many}; a service, paid when it is used."
    most = f"{amount(advice.pay_at_most)} {money}"
    if advice.buy_now == 0:
        when = f"over the next {days} days" if days > 1 else "as it is needed"
        return f"{many}; none now unless at {most} or less: buy {when}."
    return (
        f"{many}; {advice.buy_now} now at {amount(story.price_now)} {money} on average, the last "
        f"lot of them at {most} at most. More will be needed with a chance of "
        f"{percent(advice.chance_short)}."
    )


def stock_cautions(stories: Sequence[StockStory], *, money: str, notes: Sequence[str]) -> list[str]:
    """What to beware of.

    Args:
        notes: Cautions that other parts of the answer raised; they come first.
    """
    cautions = list(dict.fromkeys(notes))
    for each in stories:
        ladder, need = each.advice.question.offers.ladder, each.advice.question.need
        if ladder.lots_of > need.most > 0:
            cautions.append(
                f"{each.item} is sold in lots of {ladder.lots_of}, more than any likely need "
                f"({need.most}): the rest of a lot is left over."
            )
    for each in stories:
        if each.advice.best_to_resell is not None:
            cautions.append(
                f"{each.item}: leftovers would bring about what they cost or more, so on paper "
                f"{each.advice.best_to_resell} could be bought and what is not used resold at a "
                "profit. These are supplies for use: what is left over is counted at "
                f"{percent(LOST_RESELLING)} less than it cost at most, and no more is advised than "
                "the need asks for."
            )
    services = [each.item for each in stories if not each.stockable]
    if services:
        cautions.append(f"Not bought ahead, for they are services: {', '.join(services)}.")
    unsold = [each.item for each in stories if each.advice.question.leftover == 0]
    if unsold:
        cautions.append(f"What is left over of these counts nothing: {', '.join(unsold)}.")
    if not any(each.advice.question.trip_cost for each in stories):
        cautions.append(
            "Running short is taken to cost no time: set hour_value in the settings if going to "
            "the market again costs you some."
        )
    if any(each.advice.buy_now for each in stories):
        cautions.append(
            "What is left over is taken to sell at the sale price, each usual quantity more of it "
            f"for at least {percent(LEAST_FALL)} less."
        )
    if any(each.advice.question.days > 1 for each in stories):
        cautions.append(
            "Each day's offers are taken to be as plentiful as usual, also on the day after you "
            "bought."
        )
    cautions += _offer_cautions(stories)
    luckless = sum(
        each.advice.at(each.advice.enough_for(LIKELY_ENOUGH)).spent_now for each in stories
    )
    cautions.append(
        "An average is not a promise: with enough of each for nineteen cases in twenty, supplies "
        f"cost {amount(luckless)} {money} today. Set a budget before you start and stop there."
    )
    cautions.append(
        "Prices are other people's offers and can be bait: look before you pay, and pay no more "
        "than the price advised. Follow the game's own rules; this is no tool for trading with "
        "real money."
    )
    return cautions


def _offer_cautions(stories: Sequence[StockStory]) -> list[str]:
    """What the wanted posts take for granted."""
    if not any(each.offer for each in stories):
        return []
    assumed: dict[str, list[str]] = {}
    for each in stories:
        for sentence in each.offer_assumptions:
            assumed.setdefault(sentence, []).append(each.item)
    return [
        "Wanted posts: taken for granted that as many sellers come by as asks vanish, each with a "
        "usual lot, and that half of them accept the middle of bid and ask.",
        *(f"Wanted posts, {', '.join(items)}: {said}." for said, items in assumed.items()),
    ]
