"""What an hour of work earns: by the piece to be sold, by finishing it, by every other route."""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.errors import MakeworthError
from advisor.names import name_key
from advisor.routes.chain import follow_choices
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, cost_route, sell_prices


@dataclass(frozen=True, slots=True)
class Earning:
    """What one way earns.

    Attributes:
        what: The way, in words.
        profit_per_hour: Mean profit for an hour of work, its own value not taken off;
            None where the route takes no time.
        profit: Mean profit of one piece.
        tied_up: Mean money that goes into it before it is sold, a piece that could be
            sold as it is counted at what that brings.
    """

    what: str
    profit_per_hour: float | None
    profit: float
    tied_up: float

    @property
    def profit_per_money(self) -> float | None:
        """Profit on each unit of money tied up; None where nothing is."""
        return self.profit / self.tied_up if self.tied_up > 0 else None


def compare_earnings(
    book: RouteBook, pricing: Pricing, *, piece: str, proceeds_each: float
) -> tuple[list[Earning], list[str]]:
    """Every way an hour may be spent, best first; and what was left out, in sentences.

    Args:
        piece: The piece to be sold; its routes are taken to bring the planned proceeds.
        proceeds_each: Mean net proceeds of one piece as planned.
    """
    sold = {name_key(item): price for item, price in sell_prices(pricing).items()}
    sold[name_key(piece)] = proceeds_each
    found, notes = [], []
    for route in book.routes:
        try:
            cost = cost_route(book, route, pricing=pricing)
        except MakeworthError as fault:
            notes.append(f"{route} is not compared: {fault}.")
            continue
        price = sold.get(name_key(cost.makes))
        if price is None or cost.mean is None:
            notes.append(f"{route} is not compared: no price or no mean cost is known.")
            continue
        found.append(_made(cost, price, pricing))
        found += _finished(book, cost, pricing, piece=piece, price=price, sold_as_is=proceeds_each)
    found.sort(key=lambda each: (each.profit_per_hour is None, -(each.profit_per_hour or 0.0)))
    return found, notes


def _hourly(profit: float, minutes: float, pricing: Pricing) -> float | None:
    """Profit for an hour; costs count the hour's own value already, so it is added back."""
    value = float(pricing.settings.trade.hour_value)
    return value + profit / (minutes / 60.0) if minutes > 0 else None


def _spent(cost: float, minutes: float, pricing: Pricing) -> float:
    """What of a cost is money: the value of the time is taken out."""
    return cost - float(pricing.settings.trade.hour_value) * minutes / 60.0


def _made(cost: RouteCost, price: float, pricing: Pricing) -> Earning:
    profit = price - (cost.mean or 0.0)
    return Earning(
        f"make {cost.makes} by {cost.route}, sell it",
        _hourly(profit, cost.minutes.mean, pricing),
        profit,
        _spent(cost.mean or 0.0, cost.minutes.mean, pricing),
    )


def _finished(
    book: RouteBook,
    cost: RouteCost,
    pricing: Pricing,
    *,
    piece: str,
    price: float,
    sold_as_is: float,
) -> list[Earning]:
    """Finishing the piece where it is a stage of a route, instead of selling it as it is.

    Args:
        price, sold_as_is: What the finished piece brings, and what this one does.
    """
    found = []
    for market in book.routes[cost.route].market:
        choice = cost.choices.get(market.stage)
        if name_key(pricing.name(market.item)) != name_key(piece) or choice is None:
            continue
        start = list(cost.model.stages).index(market.stage)
        chain = follow_choices(replace(cost.model, start=start), cost.actions)
        profit = price - sold_as_is - choice.cost_to_go
        minutes = chain.moments(cost.model.minutes).mean
        found.append(
            Earning(
                f"finish {piece} to {cost.makes} by {cost.route}, sell that",
                _hourly(profit, minutes, pricing),
                profit,
                _spent(sold_as_is + choice.cost_to_go, minutes, pricing),
            )
        )
    return found
