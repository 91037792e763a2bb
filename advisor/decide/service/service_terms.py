"""What to charge under each kind of terms: floor, price, risk, profit an hour.

*fixed*: so much for the piece, and you go on until it is made. *per try*: so much
for each try. *on success*: so much if it is made within the tries agreed on, else
only the deposit is yours. A floor is the price at which the premium of the cost
less the pay, over all orders together, is nothing. Terms are made comparable by
what the customer pays on average for each piece that is made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from advisor.decide.service.agreed_order import AgreedOrder
from advisor.decide.service.premiums import Premium
from advisor.decide.service.winning import Floats, GoingRate, price_to_ask
from advisor.routes.total_law import CostDistribution

FIXED, PER_TRY, ON_SUCCESS = "fixed", "per try", "on success"
KINDS = (FIXED, PER_TRY, ON_SUCCESS)
TWENTY = 20
HOPELESS = 1e4
"""A floor beyond so many times the cost is none: no price makes up for the failures."""

CLOSE = 1e-6


@dataclass(frozen=True)
class Offer:
    """Terms to be weighed.

    Attributes:
        kind: "fixed", "per try" or "on success".
        order: How an order goes under them.
        paid: How often the price falls due with each outcome, shape (k,).
        deposit: What is yours with each outcome whatever the price, shape (k,).
        kept: The part of a payment that stays with you: 1 less the sale fee.
    """

    kind: str
    order: AgreedOrder
    paid: Floats
    deposit: Floats
    kept: float
    cost_law: Callable[[int], CostDistribution] | None = None
    """The exact law of the cost of some orders, where the pay is the same for each."""

    def loss_law(self, price: float, orders: int) -> CostDistribution:
        """The law of cost less pay over some orders."""
        if self.cost_law is not None:
            law, all_pay = self.cost_law(orders), self.kept * price * orders
            return replace(law, low=law.low - all_pay, mean=law.mean - all_pay)
        pay = self.kept * (price * self.paid + self.deposit)
        return self.order.law(self.order.cost - pay).n_fold(orders)

    def pay_for_piece(self, price: float) -> float:
        """What the customer pays on average for each piece that is made."""
        return self.order.mean(price * self.paid + self.deposit) / self.order.chance_done

    def price_for(self, pay: float) -> float:
        """The price that comes to this pay for each piece that is made."""
        fixed = self.order.mean(self.deposit)
        return (pay * self.order.chance_done - fixed) / self.order.mean(self.paid)


@dataclass(frozen=True)
class ServiceTerm:
    """One kind of terms, weighed.

    Attributes:
        kind: "fixed", "per try" or "on success".
        floor: The least price that pays for the risk; None where no price does.
        price: The price to ask; None likewise.
        win_chance: That a customer accepts it; None without a going rate.
        loss_chance, loss_chance_one, loss_chance_twenty: That all orders together,
            one, or twenty cost more than they bring at that price.
        profit_per_hour: Mean profit for an hour of work, the hour's own value not
            taken off; None where the route takes no time.
        floor_pay, pay_for_piece: What the customer pays on average for each piece made,
            at the floor, and at the price.
        chance_done: That an order ends with the piece made.
    """

    kind: str
    floor: float | None
    price: float | None
    win_chance: float | None
    loss_chance: float | None
    loss_chance_one: float | None
    loss_chance_twenty: float | None
    profit_per_hour: float | None
    floor_pay: float | None
    pay_for_piece: float | None
    chance_done: float


def make_offer(
    kind: str,
    order: AgreedOrder,
    *,
    kept: float,
    deposit: float = 0.0,
    cost_law: Callable[[int], CostDistribution] | None = None,
) -> Offer:
    """The offer of one kind for an order.

    Args:
        kept: The part of a payment that stays with you.
        deposit: Yours where the order fails; counts on success terms only.
        cost_law: The exact law of the cost of some orders; fixed terms only.
    """
    nothing = 0.0 * order.cost
    if kind == PER_TRY:
        return Offer(kind, order, order.tried, nothing, kept)
    held = deposit * order.failed if kind == ON_SUCCESS else nothing
    exact = cost_law if kind == FIXED else None
    return Offer(kind, order, order.succeeded, held, kept, exact)


def weigh_terms(
    offers: Sequence[Offer],
    *,
    orders: int,
    premium: Premium,
    going: GoingRate | None,
    hour_value: float,
) -> list[ServiceTerm]:
    """Every offer weighed.

    Args:
        orders: How many orders together.
        premium: What one must be paid to carry a cost.
        going: What others ask; None where nobody is seen asking.
        hour_value: What an hour of one's own is worth; it is in the costs already.
    """
    return [
        _weigh(each, orders=orders, premium=premium, going=going, hour_value=hour_value)
        for each in offers
    ]


def _weigh(
    offer: Offer, *, orders: int, premium: Premium, going: GoingRate | None, hour_value: float
) -> ServiceTerm:
    floor = find_floor(offer, orders, premium)
    if floor is None:
        nothing = (None,) * 9
        return ServiceTerm(offer.kind, *nothing, chance_done=offer.order.chance_done)
    floor_pay = offer.pay_for_piece(floor)
    pay = price_to_ask(floor_pay, going)
    price = offer.price_for(pay)
    one = offer.loss_law(price, 1)
    hours = offer.order.mean(offer.order.model.minutes) / 60.0
    return ServiceTerm(
        kind=offer.kind,
        floor=floor,
        price=price,
        win_chance=None if going is None else chance_to_win(going, pay),
        loss_chance=chance_of_loss(offer.loss_law(price, orders)),
        loss_chance_one=chance_of_loss(one),
        loss_chance_twenty=chance_of_loss(offer.loss_law(price, TWENTY)),
        profit_per_hour=hour_value - one.mean / hours if hours > 0 else None,
        floor_pay=floor_pay,
        pay_for_piece=pay,
        chance_done=offer.order.chance_done,
    )


def chance_to_win(going: GoingRate, price: float) -> float:
    """The chance that one price wins the order."""
    import numpy as np

    return float(going.win_chance(np.array([price]))[0])


def chance_of_loss(law: CostDistribution) -> float:
    """The chance that more is spent than comes in."""
    reach = 1e-7 * (abs(law.mean) + law.sd)
    return max(0.0, 1.0 - law.chance_within(reach))


def find_floor(offer: Offer, orders: int, premium: Premium) -> float | None:
    """The least price at which the premium of cost less pay is nothing.

    The premium falls as the price rises, and no faster than the mean pay for the
    principles that load the tail; so it is bracketed from the mean upwards.
    Returns: 0 where even no pay at all would do; None where no price is enough.
    """

    if offer.cost_law is not None:
        return max(0.0, premium(offer.cost_law, orders) / (orders * offer.kept))

    def short(price: float) -> float:
        return premium(lambda count: offer.loss_law(price, count), orders) / orders

    mean_cost = offer.order.mean(offer.order.cost - offer.kept * offer.deposit)
    low = max(0.0, mean_cost / (offer.kept * offer.order.mean(offer.paid)))
    scale = max(low, offer.order.law(offer.order.cost).sd, 1e-12)
    missing = short(low)
    if missing <= CLOSE * scale:
        return low
    step, high = missing, low
    while missing > 0:
        low, high, step = high, high + step / offer.kept, 2 * step
        if high > HOPELESS * scale:
            return None
        missing = short(high)
    from scipy.optimize import brentq

    return float(brentq(short, low, high, xtol=CLOSE * scale, rtol=1e-9, maxiter=60))
