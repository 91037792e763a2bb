"""The evening's plan in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.figures import amount, difference, percent


@dataclass(frozen=True)
class LeftOut:
    """A way that earns but does not fit: what one of it earns, takes and needs, on average."""

    what: str
    profit: float
    minutes: float
    money: float


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
        left_out: The best way that does not fit, where nothing does; None where none earns.
        hour_value: What an hour of one's own time is valued at.
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
    left_out: LeftOut | None = None
    hour_value: float = 0.0


def evening_reasons(story: EveningStory) -> list[str]:
    """Why, the decision first."""
    if not story.planned:
        return [
            f"Nothing that fits into {_hours(story.hours)} and {amount(story.budget)} "
            f"{story.money} earns anything on average.",
            _nearest(story),
            *_more(story),
        ]
    valued = (
        f", your time counted at {amount(story.hour_value)} an hour" if story.hour_value else ""
    )
    return [
        f"No other whole numbers earn more on average{valued}: {amount(story.profit)} "
        f"{story.money} in {amount(story.minutes, digits=3)} minutes with "
        f"{amount(story.spent)} spent.",
        *_enough(story),
        *_more(story),
    ]


def _nearest(story: EveningStory) -> str:
    """The best way that is left out, and what it lacks."""
    best = story.left_out
    if best is None:
        return "With more time or money nothing would either: no way earns anything on average."
    lacks = []
    short, late = difference(best.money, story.budget), difference(best.minutes, 60 * story.hours)
    if short > 0:
        lacks.append(
            f"{amount(best.money)} {story.money} for one, {amount(short)} more than there is"
        )
    if late > 0:
        lacks.append(
            f"{amount(best.minutes, digits=3)} minutes, {amount(late, digits=3)} more than there "
            "are"
        )
    earns = f"The best way left out would earn {amount(best.profit)} {story.money}: {best.what}"
    return f"{earns}; it needs {' and '.join(lacks)}." if lacks else f"{earns}."


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
    beyond = " beyond the value of your time" if story.hour_value else ""
    return [
        f"One hour more would be worth {amount(hour)} {story.money}{beyond}, half as much money "
        f"again {amount(purse)}."
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
