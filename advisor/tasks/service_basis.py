"""What a service's terms are weighed from: the work, the offers, the premium, the going rate."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from math import isfinite

from advisor.decide.service.agreed_order import AgreedOrder, agree_order, find_try
from advisor.decide.service.premiums import Premium, find_premium
from advisor.decide.service.service_terms import (
    FIXED,
    ON_SUCCESS,
    PER_TRY,
    Offer,
    chance_to_win,
    find_floor,
    make_offer,
)
from advisor.decide.service.winning import GoingRate, price_to_ask
from advisor.errors import BadInput, CannotAnswer, WrongUse
from advisor.names import did_you_mean, name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.total_law import CostDistribution
from advisor.tasks.lost_piece import settle_losses
from advisor.tasks.own_offers import learn_going_rate
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.service_work import ServiceWork, find_going_rate, find_work, less_supplies

MOST_ORDERS = 1000
MOST_TRIES = 10_000
WHOSE = ("mine", "customer")
ENOUGH_TRIES = 0.8
"""Unless said, the terms on success allow so many tries as are enough in 8 of 10 cases."""


@dataclass(frozen=True)
class ServiceQuestion:
    """What is to be agreed on.

    Attributes:
        route: As typed.
        orders: How many orders together.
        supplies: "mine" or "customer".
        deposit: Kept where terms on success fail, in the workspace money, >= 0.
        principle: How the tail is loaded: "worst", "sd", "exponential".
        caution: How much of it; None as in the settings.
        tries: Tries allowed on success; None: enough in 8 of 10 cases.
        losses: What is paid where the customer's piece is lost, in the workspace money, by
            the stage as typed.
        needed: Whether one needs the service oneself.
    """

    route: str
    orders: int = 1
    supplies: str = "mine"
    deposit: float = 0.0
    principle: str = "worst"
    caution: float | None = None
    tries: int | None = None
    losses: Mapping[str, float] = field(default_factory=dict)
    needed: bool = False


@dataclass(frozen=True, eq=False)
class ServiceBasis:
    """What the terms are weighed from.

    Attributes:
        work: What the orders cost.
        law: The law of what any number of orders costs you.
        offers: The kinds of terms that make sense, fixed first.
        try_step, tries: What counts as a try, and how many are allowed on success.
        premium, caution: What one must be paid to carry a cost, and how much of the tail.
        rate: The going rate as quoted; None where nobody asks.
        going: The same for the work as asked about, with what own offers tell.
        losses: As asked, by the route's names of the stages.
        notes: Sentences.
    """

    work: ServiceWork
    law: Callable[[int], CostDistribution]
    offers: list[Offer]
    try_step: str | None
    tries: int | None
    premium: Premium
    caution: float
    rate: GoingRate | None
    going: GoingRate | None
    losses: Mapping[str, float]
    notes: list[str]


def find_basis(book: RouteBook, pricing: Pricing, question: ServiceQuestion) -> ServiceBasis:
    """Gather it.

    Raises: WrongUse, BadInput: terms that cannot be meant. CannotAnswer: no route, items
        without a price, a cost without a mean, a piece that can be lost with no terms for it.
    """
    _refuse_unsound(question)
    name = book.named(question.route)
    book = settle_losses(book, name, question.losses)
    own = question.supplies == "mine"
    work = find_work(book, name, pricing=pricing, orders=question.orders, own=own)
    offers, try_step, tries, notes = _find_offers(work, question, pricing)
    caution = pricing.settings.trade.caution if question.caution is None else question.caution
    law = _law_of_orders(offers[0].order) if question.losses else work.law
    rate = find_going_rate(work.cost.makes, pricing)
    going = rate if rate is None or own else less_supplies(rate, work.supplies_cost)
    if going is not None:
        going = learn_going_rate(
            going,
            route=work.cost.route,
            book=book,
            offers=offers,
            supplies_cost=work.supplies_cost,
            pricing=pricing,
        )
    premium = find_premium(question.principle, caution, law(1))
    losses = {_known_stage(work.one, stage): pays for stage, pays in question.losses.items()}
    return ServiceBasis(
        work=work,
        law=law,
        offers=offers,
        try_step=try_step,
        tries=tries,
        premium=premium,
        caution=caution,
        rate=rate,
        going=going,
        losses=losses,
        notes=notes,
    )


def price_one_order(book: RouteBook, pricing: Pricing, route: str) -> tuple[float, float] | None:
    """The advised price of one order on fixed terms, and the chance that it is accepted.

    None where the going rate does not pay for it.
    """
    basis = find_basis(book, pricing, ServiceQuestion(route))
    offer, going = basis.offers[0], basis.going
    floor = find_floor(offer, 1, basis.premium)
    if floor is None or (basis.rate is not None and going is None):
        return None
    floor_pay = offer.pay_for_piece(floor)
    if going is None:
        return floor, 1.0
    if floor_pay > going.level:
        return None
    pay = price_to_ask(floor_pay, going)
    return offer.price_for(pay), chance_to_win(going, pay)


def _refuse_unsound(question: ServiceQuestion) -> None:
    if not 1 <= question.orders <= MOST_ORDERS:
        raise WrongUse(f"--orders {question.orders} is out of range", right=f"1 to {MOST_ORDERS}")
    if question.supplies not in WHOSE:
        raise WrongUse(
            f"--supplies {question.supplies!r} is neither mine nor customer",
            right="write --supplies mine",
        )
    if question.tries is not None and not 1 <= question.tries <= MOST_TRIES:
        raise WrongUse(f"--tries {question.tries} is out of range", right=f"1 to {MOST_TRIES}")
    amounts = [("--deposit", question.deposit), *(("--lost", m) for m in question.losses.values())]
    for option, money in amounts:
        if not (isfinite(money) and money >= 0):
            raise WrongUse(f"{option} {money:g} is no amount to agree on", right="0 or more")


def _find_offers(
    work: ServiceWork, question: ServiceQuestion, pricing: Pricing
) -> tuple[list[Offer], str | None, int | None, list[str]]:
    """The three kinds of terms as far as they make sense; the try; the tries allowed."""
    model, actions = work.one.model, work.one.actions
    losses = {_known_stage(work.one, stage): pays for stage, pays in question.losses.items()}
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    try_step = find_try(model, actions)
    agree = partial(
        agree_order,
        model,
        actions,
        cost=work.amounts,
        try_step=try_step,
        losses=losses,
    )
    order: AgreedOrder = agree()
    if order.chance_done <= 0:
        raise CannotAnswer(
            f"every order ends with the piece lost at {' or '.join(map(repr, losses))}",
            right="name another stage",
        )
    exact = None if losses else work.law
    offers = [make_offer(FIXED, order, kept=kept, cost_law=exact)]
    if try_step is None:
        return offers, None, None, ["Nothing is left to chance: only fixed terms make sense."]
    offers.append(make_offer(PER_TRY, order, kept=kept))
    tries = question.tries or max(1, round(order.law(order.tried).quantile(ENOUGH_TRIES)))
    try:
        capped = agree(tries=tries)
        if capped.chance_done <= 0:
            return offers, try_step, None, [f"{tries} tries can never be enough."]
        offers.append(make_offer(ON_SUCCESS, capped, kept=kept, deposit=question.deposit))
    except CannotAnswer as fault:
        return offers, try_step, None, [f"No terms on success: {fault}."]
    return offers, try_step, tries, []


def _law_of_orders(order: AgreedOrder) -> Callable[[int], CostDistribution]:
    """The law of what any number of orders costs, each of which ends where a piece is lost."""
    return order.law(order.cost).n_fold


def _known_stage(cost: RouteCost, typed: str) -> str:
    """The route's stage of this name.

    Raises: BadInput: it has no such stage.
    """
    for stage in cost.model.stages:
        if name_key(stage) == name_key(typed):
            return stage
    right = did_you_mean(typed, cost.model.stages) or f"as in routes/{cost.route}.toml"
    raise BadInput(f"{cost.route!r} has no such stage", stage=typed, right=right)
