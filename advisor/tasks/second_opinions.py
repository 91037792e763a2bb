"""What a plain model, fitted by a general library, says of a price: to compare the level with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from advisor.errors import CannotAnswer
from advisor.quotes import MICROSECONDS_A_DAY

if TYPE_CHECKING:
    from advisor.levels.fit import LocalLevelFit
    from advisor.levels.item_levels import PriceLevel
    from advisor.tasks.pricing import Pricing


@dataclass(frozen=True)
class SecondOpinion:
    """The ask price of one item by the local level model.

    Attributes:
        level: At the moment of the answer.
        fit: The fitted model.
        looks: Looks at the market it was fitted to: those that are no strays.
        sds_apart: How far it lies from the level, in standard deviations of both.
    """

    level: PriceLevel
    fit: LocalLevelFit
    looks: int
    sds_apart: float


def ask_second_opinions(
    pricing: Pricing, items: Sequence[str]
) -> tuple[dict[str, SecondOpinion], list[str]]:
    """A second opinion on each item's ask, and a sentence for each item without one."""
    opinions, without = {}, []
    for item in items:
        try:
            opinions[item] = _ask(pricing, item)
        except CannotAnswer as fault:
            without.append(f"no second opinion on {item}: {fault.what}; {fault.right}")
    return opinions, without


def _ask(pricing: Pricing, item: str) -> SecondOpinion:
    from advisor.levels.fit import STRAY, fit_local_level

    market = pricing.market
    looks, own = market.items.looks(item), market.items[item].ask
    if looks is None or own is None:
        raise CannotAnswer("nobody has asked a price for it", right="quote an ask", item=item)
    fit = fit_local_level(looks)
    sound = looks.stray < STRAY
    age_us = market.as_of_us - int(looks.at_us[sound][-1])
    level = fit.price_after(max(age_us, 0) / MICROSECONDS_A_DAY)
    apart = abs(fit.log_level - _log_level(pricing, item))
    both = (level.log_sd**2 + own.log_sd**2) ** 0.5
    return SecondOpinion(level, fit, int(sound.sum()), apart / both if both > 0 else 0.0)


def _log_level(pricing: Pricing, item: str) -> float:
    path = pricing.market.items[item].ask_path
    return 0.0 if path is None else path.start_log


def second_opinion_json(opinion: SecondOpinion) -> dict[str, Any]:
    """As `prices --second-opinion --json` has it, beside the levels."""
    level, fit = opinion.level, opinion.fit
    return {key: getattr(level, key) for key in ("level", "sd", "low_95", "high_95")} | {
        "model": "local level",
        "looks": opinion.looks,
        "noise_sd": fit.noise_sd,
        "step_sd_per_day": fit.step_sd,
        "sds_apart": opinion.sds_apart,
    }
