"""Whether to offer the service at all, and how the price falls with the number of orders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.decide.service.premiums import Premium
from advisor.decide.service.service_terms import Offer, ServiceTerm, find_floor
from advisor.decide.service.winning import GoingRate, price_to_ask

OFFER, DECLINE, BUY = "offer", "decline", "buy the service"
COUNTS = (1, 2, 5, 10, 20)


@dataclass(frozen=True, slots=True)
class OrdersPrice:
    """What to ask for each of so many orders taken together, on fixed terms."""

    orders: int
    floor: float
    price: float


def price_by_orders(
    offer: Offer, orders: int, *, premium: Premium, going: GoingRate | None
) -> list[OrdersPrice]:
    """The price of each order by how many are agreed on together."""
    prices = []
    for count in sorted({*COUNTS, orders}):
        floor = find_floor(offer, count, premium)
        if floor is not None:
            pay = price_to_ask(offer.pay_for_piece(floor), going)
            prices.append(OrdersPrice(count, floor, offer.price_for(pay)))
    return prices


def decide_service(terms: Sequence[ServiceTerm], *, rate: float | None, needed: bool) -> str:
    """Offer it, decline, or have others do it.

    Args:
        rate: What others ask, less what the customer brings; None where nobody asks.
        needed: Whether one needs the service oneself.
    """
    if any(pays(each, rate) for each in terms):
        return OFFER
    return BUY if needed and rate is not None else DECLINE


def pays(term: ServiceTerm, rate: float | None) -> bool:
    """Whether terms have a floor that the going rate covers; any floor will do without one."""
    return term.floor_pay is not None and (rate is None or term.floor_pay <= rate)
