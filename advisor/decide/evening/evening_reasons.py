"""The evening's plan in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.figures import amount, percent


@dataclass(frozen=True)
class EveningStory:
    """What the sentences tell.

    Attributes:
        money: The workspace money.
        hours, budget: What there is.
        planned: (what, how many) in the order of profit.
        minutes, spent, profit: Of all together, on average.
        chance_time, chance_purse: That the hours, the purse, are enough.
        worth_of_hour, worth_of_purse: What one more hour, half the purse more, would add.
        within: Days that pieces have to sell in.
        services: Whether a service is among the planned.
        caution: How much of the bad night the purse is made to cover.
    """

    money: str
    hours: float
    budget: float
    planned: Sequence[tuple[str, int]]
    minutes: float
    spent: float
    profit: float
    chance_time: float | None
    chance_purse: float | None
    worth_of_hour: float
    worth_of_purse: float
    within: int
    services: bool
    caution: float


def evening_reasons(story: EveningStory) -> list[str]:
    """Why, the decision first."""
    if not story.planned:
        return [
            f"Nothing that fits into {_hours(story.hours)} and {amount(story.budget)} "
            f"{story.money} earns anything on average.",
            *_more(story),
        ]
    return [
        f"No other whole numbers earn more on average: {amount(story.profit)} {story.money} in "
        f"{amount(story.minutes, digits=3)} minutes with {amount(story.spent)} spent.",
        *_enough(story),
        *_more(story),
    ]


def _hours(hours: float) -> str:
    return "1 hour" if hours == 1 else f"{amount(hours)} hours"


def _enough(story: EveningStory) -> list[str]:
    parts = []
    if story.chance_time is not None:
        parts.append(f"the time is enough for all of it in {percent(story.chance_time)} of cases")
    if story.chance_purse is not None:
        parts.append(f"the purse in {percent(story.chance_purse)}")
    if not parts:
        return []
    said = ", ".join(parts)
    return [f"{said[0].upper()}{said[1:]}: by luck it takes more or less; stop when it is gone."]


def _more(story: EveningStory) -> list[str]:
    hour, purse = story.worth_of_hour, story.worth_of_purse
    return [
        f"One hour more would be worth {amount(hour)} {story.money}, half as much money again "
        f"{amount(purse)}."
    ]


def evening_cautions(story: EveningStory, *, notes: Sequence[str]) -> list[str]:
    """What to beware of; notes of other parts come first."""
    cautions = list(dict.fromkeys(notes))
    if story.planned:
        cautions.append(
            f"Pieces are taken to be sold in {story.within} days, each more for less as the market "
            "takes only so many; what is made of them tonight is paid back then."
        )
    if story.services:
        cautions.append(
            "Services count by the chance that so many customers come in a day; time and money "
            "are kept ready for them."
        )
    if story.caution == 0 and story.planned:
        cautions.append(
            "The purse covers the mean, not the bad night: with caution in the settings it "
            "covers more."
        )
    cautions.append("An average is not a promise: set a budget before you start and stop there.")
    return cautions
