"""One's own offers of a service that were taken or declined, as the log has them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from advisor.book.orders import Order
from advisor.decide.service.customers import OwnOffer, learn_customers
from advisor.decide.service.service_terms import FIXED, Offer
from advisor.decide.service.winning import GoingRate
from advisor.names import name_key
from advisor.tasks.levels_then import LevelsThen
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook


def learn_going_rate(
    rate: GoingRate,
    *,
    route: str,
    book: RouteBook,
    offers: Sequence[Offer],
    supplies_cost: float,
    pricing: Pricing,
) -> GoingRate:
    """The going rate with what own offers tell of the customers.

    An offer counts by what the customer would have paid for a piece over the going rate
    of its time. Fixed prices for the same piece count by whichever route; other terms
    only on this one, for what they come to hangs on its odds.

    Args:
        rate: For the work as it is asked about: what the customer brings is taken off.
        offers: The terms on this route, which turn a price into the pay for a piece.
        supplies_cost: Mean cost of one order's supplies.
    """
    reader = _Reader(route, book, {each.kind: each for each in offers}, supplies_cost, pricing)
    answers = [
        OwnOffer(above, taken)
        for orders, taken in (
            (pricing.dealings.taken, True),
            (pricing.dealings.declined, False),
        )
        for order in orders
        if (above := reader.log_above(order)) is not None
    ]
    level_log_sd = min(rate.sd / rate.level, rate.log_sd) if rate.level > 0 else 0.0
    ask_log_sd = math.sqrt(max(rate.log_sd**2 - level_log_sd**2, 1e-6))
    customers = learn_customers(answers, ask_log_sd=ask_log_sd, level_log_sd=level_log_sd)
    return replace(rate, customers=customers)


class _Reader:
    """Turns an order's price into how far above the going rate of its time it was."""

    def __init__(
        self,
        route: str,
        book: RouteBook,
        offers: Mapping[str, Offer],
        supplies_cost: float,
        pricing: Pricing,
    ) -> None:
        self._route, self._book, self._offers = route, book, offers
        self._supplies_cost, self._pricing = supplies_cost, pricing
        self._makes = name_key(book.routes[route].makes)
        # a what-if price is one of today: the offers were made at the prices of their day
        self._then = LevelsThen(replace(pricing, fixed={}))

    def log_above(self, order: Order) -> float | None:
        """None where the order was for something else, or cannot be compared."""
        known = self._book.routes.get(order.route)
        if known is None or name_key(known.makes) != self._makes:
            return None
        offer = self._offers.get(order.terms)
        if offer is None or (order.terms != FIXED and order.route != self._route):
            return None
        going = self._then.buying(self._book.routes[self._route].makes, order.at_us)
        if going is None:
            return None
        if order.supplies == "customer":
            going -= self._supplies_cost
        log_rate, _ = self._pricing.market.rates.log_rate(order.money, np.array([order.at_us]))
        price = float(order.price) * math.exp(log_rate[0])
        pay = offer.pay_for_piece(price) if math.isfinite(price) else 0.0
        return math.log(pay / going) if pay > 0 and going > 0 else None
