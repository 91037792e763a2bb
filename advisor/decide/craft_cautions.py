"""What to beware of in a make-or-buy answer: old, lonely and doubted prices, averages, bait."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.decide.craft import CraftAdvice
from advisor.figures import amount

STALE_DAYS = 3.0


@dataclass(frozen=True)
class PriceNews:
    """What there is to say of one price that the answer rests on."""

    item: str
    age_days: float | None
    quotes: int
    screened: int


def price_cautions(news: Sequence[PriceNews]) -> list[str]:
    """What to beware of in the prices themselves: old, seen once, some not believed."""
    cautions = []
    stale = [
        f"{each.item} ({each.age_days:.0f} days)"
        for each in sorted(news, key=lambda each: -(each.age_days or 0.0))
        if each.age_days is not None and each.age_days > STALE_DAYS
    ]
    if stale:
        cautions.append(f"Old prices: {', '.join(stale)}; look them up before you start.")
    lonely = [each.item for each in news if each.quotes == 1]
    if lonely:
        cautions.append(f"One quote only: {', '.join(lonely)}.")
    doubted = [f"{each.item} ({each.screened})" for each in news if each.screened]
    if doubted:
        cautions.append(f"Quotes not believed, see prices ITEM --quotes: {', '.join(doubted)}.")
    return cautions


def craft_cautions(
    advice: CraftAdvice,
    *,
    money: str,
    news: Sequence[PriceNews],
    goal: str = "keep",
    notes: Sequence[str] = (),
) -> list[str]:
    """What to beware of: stale and screened prices, the budget, the usual cautions.

    Args:
        advice: The answer.
        money: Name for the sentences.
        news: The prices that the answer rests on.
        goal: "keep" or "sale".
        notes: Cautions that other parts of the answer raised; they come first.
    """
    cautions = list(dict.fromkeys(notes))
    cautions += price_cautions(news)
    if advice.shares is None and advice.best is not None:
        cautions.append("Nothing in this answer is uncertain, so no shares of variance are given.")
    if advice.best is not None and advice.best.law.luck_variance > 0:
        enough = f": {amount(advice.best.law.quantile(0.8))} {money} is enough in 8 of 10 cases"
        cautions.append(
            "An average is not a promise. Set a budget before you start and stop there"
            + (f"{enough}." if goal == "keep" else "; what is sold comes in only afterwards.")
        )
    cautions.append(
        "Prices are other people's offers and can be bait. Follow the game's own rules; "
        "this is no tool for trading with real money."
    )
    return cautions
