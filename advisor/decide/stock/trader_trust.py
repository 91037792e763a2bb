"""What an offer costs when its trader may not deliver: the risk goes into the price.

A lot that is paid and never comes is bought again at the level. With p the chance
that a trader fails, a unit asked at c comes to

    c + p * level

on average. p is the mean of its Beta law after the deals one had with the trader;
the cost is linear in p, so its mean is all that counts. Only who has failed before
bears it: the level itself is made of offers of traders who may fail as well.

Source: the Beta posterior of a share, Gelman et al., Bayesian Data Analysis, 3rd
    ed. (CRC 2013), section 2.4.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from advisor.figures import amount, percent
from advisor.levels.ladders import Ladder, Rung

PRIOR_FAILED, PRIOR_KEPT = 0.2, 3.8
"""Deals that count before the first one with a trader: one in twenty fails, worth four
deals; common practice, no source."""


@dataclass(frozen=True, slots=True)
class TraderRecord:
    """Deals of buying from one trader: those kept, and those paid where nothing came."""

    kept: int
    failed: int

    @property
    def chance_failing(self) -> float:
        """Chance that the next deal fails.

        >>> TraderRecord(kept=0, failed=1).chance_failing
        0.24
        """
        prior = PRIOR_FAILED + PRIOR_KEPT
        return (PRIOR_FAILED + self.failed) / (prior + self.failed + self.kept)


@dataclass(frozen=True)
class TrustedOffers:
    """A ladder as it counts once the risk is in its prices.

    Attributes:
        ladder: The offers cheapest first, risk included.
        risks: Money that a unit costs besides its price, by trader; absent where none.
        left_aside: Offers, at their asked prices, that cost more than looking further.
    """

    ladder: Ladder
    risks: Mapping[int, float]
    left_aside: tuple[Rung, ...]


def weigh_trust(ladder: Ladder, records: Mapping[int, TraderRecord]) -> TrustedOffers:
    """The offers with the risk of their traders in the price, sorted anew.

    An offer that so comes to more than the units beyond all sound offers is left aside.

    Args:
        records: By trader code; absent: no deal with them.
    """
    risks = {
        step.trader: records[step.trader].chance_failing * ladder.level
        for step in ladder.steps
        if step.trader in records and records[step.trader].failed
    }
    if not risks:
        return TrustedOffers(ladder, risks, ())
    sound = [step.unit_price for step in ladder.steps if step.trader not in risks]
    beyond = max(ladder.level, *sound) if sound else ladder.level
    counted, aside = [], []
    for step in ladder.steps:
        price = step.unit_price + risks.get(step.trader, 0.0)
        if step.trader in risks and price > beyond:
            aside.append(step)
        else:
            counted.append(replace(step, unit_price=price))
    if not counted:
        # others are looked for at the level, but not under what was asked
        counted = [replace(s, unit_price=max(ladder.level, s.unit_price), trader=-1) for s in aside]
    counted.sort(key=lambda step: (step.unit_price, step.qty, step.trader))
    return TrustedOffers(replace(ladder, steps=tuple(counted)), risks, tuple(aside))


def tell_trust(
    item: str,
    trader: str,
    *,
    record: TraderRecord,
    price: float,
    risk: float,
    aside: bool,
    money: str,
) -> str:
    """Why an offer of a trader who failed before counts more than its price, in a sentence.

    Args:
        price: Asked for a unit.
        risk: Money that a unit costs besides.
        aside: Whether the offer is left aside.
    """
    counts = f"each {item} of theirs at {amount(price)} {money} counts {amount(price + risk)}"
    then = (
        ", more than looking further: left aside" if aside else ", for what fails is bought again"
    )
    deals = record.kept + record.failed
    return (
        f"{trader} did not deliver {record.failed} of {deals} paid deals; the next "
        f"fails with a chance of {percent(record.chance_failing)}: {counts}{then}."
    )
