"""What to charge for a service: gathers the route's cost and the going rate, and answers."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.decide.service.service_advice import (
    DECLINE,
    OrdersPrice,
    decide_service,
    price_by_orders,
)
from advisor.decide.service.service_reasons import ServiceStory, service_cautions, service_reasons
from advisor.decide.service.service_terms import (
    ServiceTerm,
    weigh_terms,
)
from advisor.decide.service.winning import GoingRate
from advisor.names import name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.total_law import CostDistribution
from advisor.tasks.craft_news import doubt_prices
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.service_basis import ServiceQuestion, find_basis


@dataclass(frozen=True)
class Service:
    """The answer.

    Attributes:
        cost: The route's cost for all orders together, as it stands.
        law: The law of what they cost you.
        terms, by_orders, verdict: The advice.
        rate: The going rate as quoted; None where nobody asks.
        story: What the sentences are made from.
        reasons, cautions: Sentences.
        doubts: Those of the cautions that tell of doubtful quotes.
        pricing: The prices that all rests on.
    """

    question: ServiceQuestion
    cost: RouteCost
    law: CostDistribution
    terms: tuple[ServiceTerm, ...]
    by_orders: tuple[OrdersPrice, ...]
    verdict: str
    rate: GoingRate | None
    story: ServiceStory
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]
    pricing: Pricing


def advise_service(book: RouteBook, pricing: Pricing, question: ServiceQuestion) -> Service:
    """Answer what to charge for making a route's piece for others.

    Raises: WrongUse, BadInput: terms that cannot be meant. CannotAnswer: no route, items
        without a price, a cost without a mean.
    """
    basis = find_basis(book, pricing, question)
    work, offers, going = basis.work, basis.offers, basis.going
    terms = weigh_terms(
        offers,
        orders=question.orders,
        premium=basis.premium,
        going=going,
        hour_value=float(pricing.settings.trade.hour_value),
    )
    verdict = _verdict(terms, basis.rate, going, needed=_is_needed(book, work.cost, question))
    by_orders = price_by_orders(offers[0], question.orders, premium=basis.premium, going=going)
    used = [pricing.name(item) for item in work.cost.use]
    doubts = doubt_prices([pricing.name(work.cost.makes), *used], pricing)
    story = ServiceStory(
        makes=work.cost.makes,
        money=pricing.market.money,
        orders=question.orders,
        supplies=question.supplies,
        law=basis.law(1),
        supplies_cost=work.supplies_cost,
        terms=terms,
        by_orders=by_orders,
        going=going,
        going_level=None if basis.rate is None else basis.rate.level,
        verdict=verdict,
        try_step=basis.try_step,
        tries=basis.tries,
        deposit=question.deposit,
        losses=basis.losses,
        chances_lost=offers[0].order.chances_lost,
        principle=question.principle,
        caution=basis.caution,
        fees=any(pricing.market.rates.now(item) is not None for item in used),
    )
    return Service(
        question=question,
        cost=work.cost,
        law=basis.law(question.orders),
        terms=tuple(terms),
        by_orders=tuple(by_orders),
        verdict=verdict,
        rate=basis.rate,
        story=story,
        reasons=tuple(service_reasons(story)),
        cautions=tuple(
            service_cautions(
                story,
                notes=[*work.cost.cautions, *basis.notes, *doubts, *pricing.market.cautions],
                odds_unsure=bool(work.cost.odds_sd) and len(offers) > 1,
                luck_left_out=list(work.cost.made) if len(offers) > 1 else [],
            )
        ),
        doubts=tuple(doubts),
        pricing=pricing,
    )


def _verdict(
    terms: list[ServiceTerm],
    rate: GoingRate | None,
    going: GoingRate | None,
    *,
    needed: bool,
) -> str:
    if rate is not None and going is None:
        return DECLINE
    return decide_service(terms, rate=None if going is None else going.level, needed=needed)


def _is_needed(book: RouteBook, cost: RouteCost, question: ServiceQuestion) -> bool:
    """Whether one needs it oneself: as said, or because a route uses it."""
    if question.needed:
        return True
    wanted = name_key(cost.makes)
    return any(
        name_key(each.item or "") == wanted
        for route in book.routes.values()
        for step in route.steps
        for each in (*step.uses, *(use for outcome in step.outcomes for use in outcome.uses))
    )
