"""The service answer in sentences: why this price, what to agree on, what to beware of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp

from advisor.decide.service.service_advice import BUY, DECLINE, OFFER, OrdersPrice, pays
from advisor.decide.service.service_terms import (
    FIXED,
    KINDS,
    ON_SUCCESS,
    PER_TRY,
    ServiceTerm,
)
from advisor.decide.service.winning import GoingRate
from advisor.figures import amount, difference, percent
from advisor.routes.total_law import CostDistribution


@dataclass(frozen=True)
class ServiceStory:
    """What the sentences tell.

    Attributes:
        makes, money: Names.
        orders: How many together.
        supplies: "mine" or "customer".
        law: The law of what one order costs you.
        supplies_cost: Mean cost of the supplies of one order.
        terms, by_orders: The prices.
        going: What others ask for the same, as it compares; None: nobody asks.
        going_level: As quoted; None likewise.
        verdict: "offer", "decline" or "buy the service".
        try_step: What counts as a try; None where nothing is left to chance.
        tries: How many tries the terms on success allow.
        deposit: What stays with you if it fails.
        losses, chances_lost: What you pay where a customer's piece is lost, and how likely
            that is, by the stage.
        principle, caution: How the tail is loaded.
        fees: Whether some step takes money: who pays it must be agreed on.
    """

    makes: str
    money: str
    orders: int
    supplies: str
    law: CostDistribution
    supplies_cost: float
    terms: Sequence[ServiceTerm]
    by_orders: Sequence[OrdersPrice]
    going: GoingRate | None
    going_level: float | None
    verdict: str
    try_step: str | None
    tries: int | None
    deposit: float
    losses: Mapping[str, float]
    chances_lost: Mapping[str, float]
    principle: str
    caution: float
    fees: bool = False

    @property
    def rate(self) -> float | None:
        """What others ask for the same work; None: nobody asks."""
        return None if self.going is None else self.going.level

    def term(self, kind: str) -> ServiceTerm | None:
        """The terms of one kind, where they have a price."""
        return next((t for t in self.terms if t.kind == kind and t.price is not None), None)

    def offered(self, kind: str) -> ServiceTerm | None:
        """The terms of one kind, where the going rate covers their floor."""
        term = self.term(kind)
        return term if term is not None and pays(term, self.rate) else None


def service_reasons(story: ServiceStory) -> list[str]:
    """Why, the decision first."""
    said = [_verdict(story), *_work_alone(story), *_bad_night(story), *_many_orders(story)]
    if story.verdict == OFFER:
        said += [*_chance_to_win(story), *_learned(story), *_losing(story), *_in_vain(story)]
        said += [f'Agree before you start: "{each}"' for each in agreements(story)]
    return said


def _verdict(story: ServiceStory) -> str:
    fixed, money = story.term(FIXED), story.money
    floor = "no price at all" if fixed is None else f"{amount(fixed.floor)} {money}"
    if story.going_level is None:
        return (
            f"Offer it at {floor} or more: nobody is seen asking a price for {story.makes}, "
            "so the price is the floor."
        )
    rate = f"the going rate of {amount(story.going_level)} {money}"
    if story.supplies == "customer":
        paid = " and the fees they pay" if story.fees else ""
        rate += f" less {amount(story.supplies_cost)} for the supplies the customer brings{paid}"
    covered = [each.kind for each in story.terms if pays(each, story.rate)]
    if story.verdict == OFFER and FIXED not in covered:
        return (
            f"Offer it {' or '.join(covered)} only: {rate} does not pay {floor}, the floor of "
            "fixed terms."
        )
    said = {
        OFFER: f"Offer it: the floor of {floor} lies below {rate}.",
        DECLINE: f"Decline: {rate} does not pay the floor of {floor}.",
        BUY: f"Buy it from others: {rate} is less than your own floor of {floor}.",
    }
    return said[story.verdict]


def _work_alone(story: ServiceStory) -> list[str]:
    """What is compared where the customer brings the supplies."""
    if story.supplies == "mine" or story.going_level is None:
        return []
    what = "supplies and fees" if story.fees else "supplies"
    left = max(difference(story.going_level, story.supplies_cost), 0.0)
    return [
        f"Compared is the work alone: what others ask for {story.makes} is taken to include "
        f"{what}, so {amount(story.going_level)} less {amount(story.supplies_cost)} leaves "
        f"{amount(left)} {story.money} to ask for it."
    ]


def _bad_night(story: ServiceStory) -> list[str]:
    if story.law.sd == 0:
        return []
    loaded = (
        "caution is 0, so nothing is loaded for the tail"
        if story.caution == 0
        else f"the tail is loaded by the {_principle(story.principle)} at caution "
        f"{amount(story.caution)}"
    )
    return [
        f"One order costs you {amount(story.law.mean)} {story.money} on average, "
        f"{amount(story.law.quantile(0.95))} or more one time in twenty and "
        f"{amount(story.law.shortfall(0.95))} on average of those; {loaded}."
    ]


def _principle(principle: str) -> str:
    return {
        "worst": "mean of the worst 5 %",
        "sd": "standard deviation",
        "exponential": "exponential principle",
    }[principle]


def _chance_to_win(story: ServiceStory) -> list[str]:
    best = next((t for t in map(story.offered, KINDS) if t is not None), None)
    if best is None or best.win_chance is None:
        return []
    return [
        f"{amount(best.price)} {story.money} {best.kind} is accepted with a chance of "
        f"{percent(best.win_chance)} and is worth most on average; a lower price wins more "
        "orders, a higher one earns more from each."
    ]


def _learned(story: ServiceStory) -> list[str]:
    known = None if story.going is None else story.going.customers
    if story.going is None or known is None or not known.offers:
        return []
    middle, low, high = (
        story.going.level * exp(each)
        for each in (
            known.mean_middle,
            known.share_of_middles(0.025),
            known.share_of_middles(0.975),
        )
    )
    offers = "1 offer" if len(known.offers) == 1 else f"{len(known.offers)} offers"
    taken = {0: "none was", 1: "1 was"}.get(known.taken, f"{known.taken} were")
    return [
        f"Of {offers} of yours {taken} taken: half the customers accept "
        f"{amount(middle)} {story.money} for a piece ({amount(low)} to {amount(high)} in 95 of "
        "100 cases)."
    ]


def _in_vain(story: ServiceStory) -> list[str]:
    """What a customer who pays per try has paid where the tries agreed on are not enough."""
    by_try, success = story.offered(PER_TRY), story.term(ON_SUCCESS)
    if by_try is None or by_try.price is None or success is None or story.tries is None:
        return []
    return [
        f"Paid per try, a customer who stops after {story.tries} times {story.try_step!r} has "
        f"paid up to {amount(story.tries * by_try.price)} {story.money} and in "
        f"{percent(1.0 - success.chance_done)} of cases has nothing for it; on success they "
        f"then pay {amount(story.deposit)}."
    ]


def _losing(story: ServiceStory) -> list[str]:
    told = [each for each in story.terms if each.loss_chance_one is not None]
    if not told or not any(each.loss_chance_one for each in told):
        return []
    parts = [
        f"{each.kind} {percent(each.loss_chance_one)} and {percent(each.loss_chance_twenty)}"
        for each in told
    ]
    return [f"Chance to lose money on one order, and on twenty: {'; '.join(parts)}."]


def _many_orders(story: ServiceStory) -> list[str]:
    one, most = story.by_orders[0], story.by_orders[-1]
    if most.floor >= one.floor * (1 - 1e-4):
        return []
    return [
        f"Luck evens out over many orders: the floor falls from {amount(one.floor)} "
        f"{story.money} for one to {amount(most.floor)} each for {most.orders}."
    ]


def agreements(story: ServiceStory) -> list[str]:
    """What to say to the customer, one sentence for each kind of terms that pays."""
    lost = f" {_who_brings(story)}{_if_lost(story)}"
    said = []
    fixed, by_try, success = map(story.offered, KINDS)
    if fixed is not None:
        said.append(
            f"{_piece(story, fixed)}: {_money(fixed, story)}, paid when it is done; I go on "
            f"until it is.{lost}"
        )
    if by_try is not None:
        said.append(
            f"{_piece(story, by_try)}: {_money(by_try, story)} for each "
            f"{story.try_step!r}, whatever comes of it.{lost}"
        )
    if success is not None:
        kept = (
            f"I keep the deposit of {amount(story.deposit)} {story.money}"
            if story.deposit
            else "you pay nothing"
        )
        said.append(
            f"{_piece(story, success)}: {_money(success, story)} if it is done within "
            f"{story.tries} times {story.try_step!r}; else {kept} and you take back what is "
            f"there.{lost}"
        )
    return said


def _who_brings(story: ServiceStory) -> str:
    who = "I" if story.supplies == "mine" else "You"
    fees = " and pay the fees" if story.fees else ""
    return f"{who} bring the supplies{fees}."


def _piece(story: ServiceStory, term: ServiceTerm) -> str:
    return f"{story.makes}, {term.kind}"


def _money(term: ServiceTerm, story: ServiceStory) -> str:
    return f"{amount(term.price)} {story.money}"


def _if_lost(story: ServiceStory) -> str:
    said = ""
    for stage, paid in story.losses.items():
        where = "on the way" if len(story.losses) == 1 else f"at {stage!r}"
        then = f"I pay you {amount(paid)} {story.money} for it" if paid else "that is your risk"
        said += f" If your piece is lost {where}, {then}."
    return said


def _assumed(going: GoingRate) -> str:
    if going.customers is not None and going.customers.offers:
        return (
            "Before your own offers, half the customers were taken to accept the going rate, "
            "give or take the spread of single asks."
        )
    return (
        "Assumed, not seen: half the customers accept the going rate, give or take the spread "
        "of single asks, and fewer a higher price; log what they take and decline: makeworth "
        "log order new, makeworth log order declined."
    )


def service_cautions(
    story: ServiceStory, *, notes: Sequence[str], odds_unsure: bool, luck_left_out: Sequence[str]
) -> list[str]:
    """What to beware of; the notes of other parts come first.

    Args:
        odds_unsure: Whether odds were learned from tries.
        luck_left_out: Items made on the way, whose luck the terms by tries leave out.
    """
    cautions = list(dict.fromkeys(notes))
    if story.going_level is None:
        cautions.append(
            f"No going rate: nobody is seen asking a price for {story.makes}; "
            f'quote one: makeworth quote "{story.makes}" PRICE.'
        )
    elif story.going is not None:
        cautions.append(_assumed(story.going))
    if story.caution == 0 and story.law.sd > 0:
        cautions.append("Nothing is paid for the bad night: set caution, or say --caution 0.3.")
    if story.orders > 1 and story.supplies == "mine":
        cautions.append(
            "Supplies are taken to be bought for one order at a time, at the prices of today."
        )
    for stage, chance in story.chances_lost.items():
        cautions.append(
            f"The customer's piece is lost at {stage!r} with a chance of {percent(chance)} an "
            f"order, {amount(chance * story.losses[stage])} {story.money} of the cost."
        )
    if odds_unsure:
        cautions.append("Terms by tries are worked out at the likeliest odds, not over all.")
    if luck_left_out:
        cautions.append(f"Terms by tries count {', '.join(luck_left_out)} at mean cost.")
    return cautions
