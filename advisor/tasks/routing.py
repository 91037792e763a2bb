"""Routes of a workspace at the prices of a moment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from pathlib import Path

from advisor.errors import BadInput, CannotAnswer, MakeworthError, WrongUse
from advisor.figures import counted
from advisor.names import did_you_mean, name_key
from advisor.routes.cost_answer import RouteCost
from advisor.routes.read import read_route
from advisor.routes.route import Route
from advisor.routes.what_if import change_odds, is_rung_of, leave_out
from advisor.tasks.pricing import Pricing
from advisor.tasks.workspace import Workspace
from advisor.times import EPOCH, MICROSECOND, local_us

GOALS = ("keep", "sale")


@dataclass(frozen=True)
class RouteBook:
    """The routes of a workspace.

    Attributes:
        routes: By name (the file's name without its ending).
        faults: Files that could not be read, by name, with what is wrong; also routes of
            which a what-if leaves no step.
        folder: Of the workspace; faults are told from there on.
        supposed: Steps, as `name_key` has them, whose odds are a what-if: what was
            logged of them does not count.
    """

    routes: Mapping[str, Route]
    faults: Mapping[str, MakeworthError]
    folder: Path
    supposed: frozenset[str] = frozenset()

    def named(self, name: str) -> str:
        """The name of a route as typed, with or without folder and ending.

        Raises: the file's own fault, or BadInput: there is no such route.
        """
        wanted = name_key(Path(name).name.removesuffix(".toml"))
        for known, fault in self.faults.items():
            if name_key(known) == wanted:
                raise fault
        for known in self.routes:
            if name_key(known) == wanted:
                return known
        right = did_you_mean(name, self.routes) or _known(self.routes)
        raise BadInput(f"there is no route {name!r}", right=right)

    def making(self, piece: str) -> list[str]:
        """Names of the routes that make a piece, in order."""
        key = name_key(piece)
        return [name for name, route in self.routes.items() if name_key(route.makes) == key]

    def tell(self, fault: MakeworthError) -> str:
        """What is wrong, files named from the workspace on: a page may be read elsewhere."""
        return fault.told_within(self.folder)

    def pieces(self) -> list[str]:
        """Every piece that some route makes, in order, each once."""
        found = {name_key(route.makes): route.makes for route in self.routes.values()}
        return [found[key] for key in sorted(found)]


def _known(routes: Mapping[str, Route]) -> str:
    return f"known are {', '.join(sorted(routes))}" if routes else "write one into routes/"


def read_routes(workspace: Workspace) -> RouteBook:
    """Read every route file; one that is at fault does not keep the others from answering."""
    routes, faults = {}, {}
    for file in sorted(workspace.routes.glob("*.toml")):
        try:
            routes[file.stem] = read_route(file)
        except MakeworthError as fault:
            faults[file.stem] = fault
    return RouteBook(routes, faults, workspace.folder)


def change_routes(
    book: RouteBook, *, odds: Sequence[str] = (), without: Sequence[str] = ()
) -> RouteBook:
    """The routes as they would be with other odds, or without some steps.

    Args:
        odds: As typed, "STEP=ODDS".
        without: Names of steps.
    Raises: WrongUse, BadInput: a step or odds that cannot be meant.
    """
    routes = dict(book.routes)
    for typed in odds:
        routes = change_odds(routes, typed)
    for step in without:
        routes = leave_out(routes, step)
    faults = dict(book.faults)
    for name in sorted(book.routes.keys() - routes.keys()):
        faults[name] = CannotAnswer(
            "no step of it is left",
            right="leave out fewer steps",
            file=book.routes[name].file,
        )
    changed = [typed.rpartition("=")[0] for typed in odds]
    supposed = book.supposed | {name_key(step) for step in (*changed, *without)}
    return replace(book, routes=routes, faults=faults, supposed=supposed)


def count_tries(book: RouteBook, pricing: Pricing) -> dict[str, dict[tuple[str, str], int]]:
    """The logged tries that count for the odds, by route.

    Those of what-if steps do not, nor those from before the odds of a step came into force.
    """
    return {
        route: _count_own(book.routes[route], own, book.supposed, pricing.settings.timezone)
        for route, own in pricing.tries.items()
        if route in book.routes
    }


def _count_own(
    route: Route,
    logged: Mapping[tuple[str, str], Mapping[int, int]],
    supposed: frozenset[str],
    zone: tzinfo,
) -> dict[tuple[str, str], int]:
    dated = [(step.name, _moment(step.since, zone)) for step in route.steps if step.since]
    counts = {}
    for (step, outcome), by_quarter in logged.items():
        if any(is_rung_of(written, step) for written in supposed):
            continue
        from_us = max((since for name, since in dated if is_rung_of(name, step)), default=None)
        counts[step, outcome] = sum(
            tries for quarter, tries in by_quarter.items() if from_us is None or quarter >= from_us
        )
    return counts


def _moment(since: date, zone: tzinfo) -> int:
    """The first moment of a day, or a moment as written; local where it has no offset."""
    if not isinstance(since, datetime):
        since = datetime.combine(since, datetime.min.time())
    if since.tzinfo is not None:
        return (since - EPOCH) // MICROSECOND
    return local_us(since, zone).at_us


def refuse_unknown_prices(pricing: Pricing, book: RouteBook) -> None:
    """Refuse a what-if price of an item that neither the book nor any route knows.

    Raises: BadInput: it would change nothing.
    """
    used = {name_key(item): item for route in book.routes.values() for item in _items_of(route)}
    for item in pricing.fixed:
        key = name_key(item)
        if key not in used and key not in pricing.names and not any("{" in each for each in used):
            right = did_you_mean(item, [*used.values(), *pricing.names.values()])
            raise BadInput(
                "no route and no quote knows this item",
                item=item,
                right=right or "--price takes an item's name as in the book or in a route",
            )


def _items_of(route: Route) -> Iterator[str]:
    """Every item that a route's file names."""
    yield route.makes
    yield from (each.item for each in route.market)
    if route.pool is not None:
        yield route.pool.base
        yield from (str(grade.values.get("item", "")) for grade in route.pool.grades)
    for step in route.steps:
        moved = [*step.uses, *step.gives]
        for outcome in step.outcomes:
            moved += [*outcome.uses, *outcome.gives]
        yield from (each.item for each in moved if each.item)


def known_goal(goal: str) -> str:
    """The goal as typed.

    Raises: WrongUse: neither keep nor sale.
    """
    if goal not in GOALS:
        raise WrongUse(f"--for {goal!r} is neither keep nor sale", right="write --for keep")
    return goal


def buy_prices(pricing: Pricing) -> dict[str, float]:
    """What one unit of each item costs: what-if prices, else rates, else the ask levels."""
    market = pricing.market
    prices = {}
    for item in market.items:
        ask = market.items[item].ask
        rate = market.rates.now(item)
        if rate is not None:
            prices[item] = rate.value
        elif ask is not None:
            prices[item] = ask.level
    return _by_every_spelling(prices | dict(pricing.fixed), pricing)


def sell_prices(pricing: Pricing) -> dict[str, float]:
    """What one unit of each item brings, net of the sale fee, listed in its usual time."""
    market = pricing.market
    prices = {}
    for item in market.items:
        sale = market.items[item].sale
        rate = market.rates.now(item)
        if rate is not None:
            prices[item] = rate.value
        elif sale is not None:
            prices[item] = sale.level
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    fixed = {item: price * kept for item, price in pricing.fixed.items()}
    return _by_every_spelling(prices | fixed, pricing)


def _by_every_spelling(prices: Mapping[str, float], pricing: Pricing) -> dict[str, float]:
    """The prices, also under the other spellings that the settings name."""
    also = {key: prices[name] for key, name in pricing.names.items() if name in prices}
    return also | dict(prices)


def cost_route(
    book: RouteBook,
    route: str,
    *,
    pricing: Pricing,
    goal: str = "keep",
    pieces: int = 1,
    budget: float | None = None,
    buy: Mapping[str, float] | None = None,
    refuse_loops: bool = False,
) -> RouteCost:
    """What a route costs at the prices of a moment.

    Args:
        route: Its name, as in the book.
        buy: Other buying prices than the levels; None for those.
        refuse_loops: Refuse a sale on the way that earns without limit, rather than leave it
            out with a caution.
    Raises: CannotAnswer: items without a price. RouteFault: it cannot be solved.
    """
    from advisor.routes.cost import route_cost

    trade = pricing.settings.trade
    tries = count_tries(book, pricing)
    cost = route_cost(
        route,
        routes=book.routes,
        buy=buy_prices(pricing) if buy is None else buy,
        sell=sell_prices(pricing),
        money=pricing.market.money,
        goal=goal,
        pieces=pieces,
        budget=budget,
        hour_value=float(trade.hour_value),
        trust=trade.trust,
        tries=tries,
        leaves_out_loops=not refuse_loops,
    )
    return replace(cost, cautions=(*cost.cautions, *_note_learned(cost, tries)))


def _note_learned(cost: RouteCost, tries: Mapping[str, Mapping[tuple[str, str], int]]) -> list[str]:
    """Say that odds were learned, wherever that moves the cost."""
    notes = []
    for route in dict.fromkeys([cost.route, *(each.route for each in cost.made.values())]):
        count = sum(tries.get(route, {}).values())
        if count:
            notes.append(
                f"The odds of {route} are learned: {counted(count, 'logged attempt')} "
                f"{'is' if count == 1 else 'are'} taken in; --stated-odds leaves "
                f"{'it' if count == 1 else 'them'} out."
            )
    return notes


def refuse_no_routes(book: RouteBook, piece: str) -> None:
    """Raise what is wrong where no route makes a piece."""
    if book.faults:
        raise next(iter(book.faults.values()))
    right = did_you_mean(piece, book.pieces()) or (
        f"routes make {', '.join(book.pieces())}" if book.routes else "write one into routes/"
    )
    raise CannotAnswer("no route makes this piece", item=piece, right=right)
