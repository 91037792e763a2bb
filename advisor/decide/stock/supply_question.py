"""What there is to know of one supply before deciding on it."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.decide.stock.buying_now import OffersNow, refuse_holes
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_looks import PriceWalk
from advisor.errors import BadInput


@dataclass(frozen=True, eq=False)
class SupplyQuestion:
    """What there is to know of one item, money in the workspace money.

    Attributes:
        item: Its name, for refusals.
        need: Units still needed, what is on hand taken off.
        offers: What can be bought today.
        walk: The law of the asking price from today on.
        days: Days from now to the last one, >= 1.
        leftover: What a unit left over brings on the last day, net, as a share of the
            asking price then, in [0, 1].
        trip_cost: Money for going to the market once more, on a later day.
        money_rate: Cost of money tied up for a day, as a share.
    """

    item: str
    need: NeedLaw
    offers: OffersNow
    walk: PriceWalk
    days: int = 1
    leftover: float = 0.0
    trip_cost: float = 0.0
    money_rate: float = 0.0


def refuse_unsound(question: SupplyQuestion) -> None:
    """Refuse a question that cannot be meant.

    Raises: BadInput: no day to buy on, a ladder with a hole, a share out of range.
    """
    if question.days < 1:
        raise BadInput(f"{question.days} days to buy in", right="at least 1", item=question.item)
    if not 0 <= question.leftover <= 1:
        raise BadInput(
            f"leftovers that bring {question.leftover:g} of the asking price",
            right="a share from 0 to 1",
            item=question.item,
        )
    refuse_holes(question.offers.ladder, question.item)
