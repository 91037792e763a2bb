"""What an hour of work and the money tied up earn: by every way, and against selling as it is."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.errors import MakeworthError
from advisor.figures import difference
from advisor.names import name_key
from advisor.tasks.breaking_up import BreakUp, find_break_up
from advisor.tasks.planned_sales import plan_sales
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route, sell_prices
from advisor.tasks.service_basis import price_one_order
from advisor.tasks.ways_to_earn import PIECE, SERVICE, Way, find_ways

SUPPLIES, APART = "supplies", "taken apart"


@dataclass(frozen=True, slots=True)
class Earning:
    """What one way earns.

    Attributes:
        what: The way, in words.
        kind: "piece", "grade", "half-made", "service", "supplies" or "taken apart".
        profit_per_hour: `profit` for an hour of work; None where the way takes no time.
        profit: Mean profit of one, your own time not taken off.
        tied_up: Mean money that goes into it before it is sold, a piece that could be
            sold as it is counted at what that brings.
    """

    what: str
    kind: str
    profit_per_hour: float | None
    profit: float
    tied_up: float

    @property
    def profit_per_money(self) -> float | None:
        """Profit on each unit of money tied up; None where nothing is."""
        return self.profit / self.tied_up if self.tied_up > 0 else None


@dataclass(frozen=True)
class Compared:
    """Everything that may be done.

    Attributes:
        earnings: By profit for an hour, most first; then those that take no time.
        ways: The ways behind those that make something.
        service_prices: (net price, chance to win) of each service that is worth offering,
            by the key of its item.
        gains: What the first, second, ... piece adds to the proceeds, by the key of its item.
        unplanned: Whose sale cannot be planned, in sentences.
        notes: What was left out, in sentences.
    """

    earnings: tuple[Earning, ...]
    ways: tuple[Way, ...]
    service_prices: dict[str, tuple[float, float]]
    gains: dict[str, list[float]]
    unplanned: tuple[str, ...]
    notes: tuple[str, ...]


def prices_sold_at(pricing: Pricing) -> dict[str, float]:
    """What one of each item brings, net, by its key."""
    return {name_key(item): price for item, price in sell_prices(pricing).items()}


def best_break_up(book: RouteBook, pricing: Pricing, piece: str) -> BreakUp | None:
    """The best way of all routes to take a piece apart; None where there is none."""
    sold, best = prices_sold_at(pricing), None
    for name, route in book.routes.items():
        used = (each.item for step in route.steps for each in step.uses)
        if name_key(piece) not in {name_key(pricing.name(item or "")) for item in used}:
            continue
        try:
            cost = cost_route(book, name, pricing=pricing)
        except MakeworthError:
            continue
        found = find_break_up(cost, piece, pricing=pricing, sold=sold)
        if found is not None and (best is None or found.value > best.value):
            best = found
    return best


def compare_earnings(
    book: RouteBook,
    pricing: Pricing,
    *,
    days: int,
    every: int = 1,
    most: int = 1,
    piece: str | None = None,
    proceeds_each: float = 0.0,
) -> Compared:
    """Every way an hour may be spent, best first, one of each sold as planned.

    Args:
        days: Days to sell in.
        every: Days that an ask stands.
        most: Pieces of one item to plan the sale of.
        piece: A piece that one has to sell; its routes are taken to bring the planned
            proceeds, and finishing it costs what it would bring as it is. None: none.
        proceeds_each: Mean net proceeds of one piece as planned.
    """
    sold = prices_sold_at(pricing)
    if piece is not None:
        sold[name_key(piece)] = proceeds_each
    ways, notes = find_ways(book, pricing, sold=sold)
    services = _price_services(book, pricing, ways, notes=notes)
    gains, unplanned = plan_sales(ways, pricing, days=days, most=most, every=every)
    sold_for = sold | {key: row[0] for key, row in gains.items() if row}
    if piece is not None:
        sold_for[name_key(piece)] = proceeds_each
    earnings = []
    for way in ways:
        key = name_key(pricing.name(way.sells))
        price = services.get(key, (None, 0.0))[0] if way.kind == SERVICE else sold_for.get(key)
        if price is None:
            if way.kind != SERVICE:
                notes.append(f"{way.what} is not compared: no price of {way.sells} is known.")
            continue
        earnings.append(_earned(way, price, pricing, piece=piece, as_is=proceeds_each))
        earnings += _unused(way, piece, pricing)
    apart = None if piece is None else best_break_up(book, pricing, piece)
    if apart is not None:
        earnings.append(_apart(apart, str(piece), pricing, as_is=proceeds_each))
    earnings.sort(key=lambda each: (each.profit_per_hour is None, -(each.profit_per_hour or 0.0)))
    return Compared(
        earnings=tuple(earnings),
        ways=tuple(ways),
        service_prices=services,
        gains=gains,
        unplanned=tuple(unplanned),
        notes=tuple(dict.fromkeys(notes)),
    )


def _earned(
    way: Way, price: float, pricing: Pricing, *, piece: str | None, as_is: float
) -> Earning:
    what, spent = way.what, way.spent
    if piece is not None and way.bought is not None and name_key(way.bought) == name_key(piece):
        spent += as_is - _buying(way.bought, pricing)
        what = f"finish {piece} to {way.sells} by {way.route}, sell that"
    elif way.kind != SERVICE:
        what += ", sell it"
    profit = difference(price, spent)
    return Earning(what, way.kind, _hourly(profit, way.minutes), profit, spent)


def _buying(item: str, pricing: Pricing) -> float:
    return {name_key(name): price for name, price in buy_prices(pricing).items()}[name_key(item)]


def _hourly(profit: float, minutes: float) -> float | None:
    return profit / (minutes / 60.0) if minutes > 0 else None


def _unused(way: Way, piece: str | None, pricing: Pricing) -> list[Earning]:
    """Selling the supplies of a way as they are; where a piece is to be sold, of its own ways."""
    if way.supplies_sold is None or way.bought is not None or way.spent <= 0:
        return []
    if piece is not None and name_key(pricing.name(way.sells)) != name_key(piece):
        return []
    part = "" if way.kind in {PIECE, SERVICE} else f" up to {way.sells}"
    what = f"sell the supplies of {way.route}{part} instead of using them"
    return [Earning(what, SUPPLIES, None, difference(way.supplies_sold, way.spent), way.spent)]


def _apart(found: BreakUp, piece: str, pricing: Pricing, *, as_is: float) -> Earning:
    what = f"take {piece} apart: {found.step} by {found.route}"
    profit = difference(found.value, as_is)
    return Earning(what, APART, _hourly(profit, found.minutes), profit, as_is)


def _price_services(
    book: RouteBook, pricing: Pricing, ways: list[Way], *, notes: list[str]
) -> dict[str, tuple[float, float]]:
    """Net price and chance to win of each service on fixed terms, by its cheapest route.

    Args:
        notes: Takes in which are not worth offering, and why.
    """
    found: dict[str, tuple[float, float]] = {}
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    for way in sorted((way for way in ways if way.kind == SERVICE), key=lambda way: way.cost):
        key = name_key(pricing.name(way.sells))
        if key in found:
            continue
        try:
            priced = price_one_order(book, pricing, way.route)
        except MakeworthError as fault:
            notes.append(f"{way.what} is not compared: {book.tell(fault)}.")
            continue
        if priced is None:
            notes.append(f"{way.what} is not offered: the going rate does not pay for it.")
        else:
            found[key] = (kept * priced[0], priced[1])
    return found
