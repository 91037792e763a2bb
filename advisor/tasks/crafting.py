"""Make or buy: gathers prices and routes, walks the ladders, asks the decision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.book.settings import SETTINGS_FILE
from advisor.decide.break_even import FlipPoint
from advisor.decide.craft import BuyOption, CraftAdvice, RouteOption, weigh_craft
from advisor.decide.craft_cautions import craft_cautions
from advisor.decide.craft_reasons import SpentOn, craft_reasons
from advisor.decide.price_risk import PriceBelief
from advisor.decide.worth_knowing import WorthKnowing, find_worth_knowing, share_learned
from advisor.decide.worth_of_news import TriesWorth
from advisor.errors import BadInput, MakeworthError
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.craft_flips import ask_routes, find_flips
from advisor.tasks.craft_news import find_price_news, warn_of_season
from advisor.tasks.craft_tries import find_tries_worth
from advisor.tasks.made_or_bought import (
    MadeOrBought,
    compare_made_and_bought,
    tell_made_or_bought,
)
from advisor.tasks.price_beliefs import believe_level, believe_price
from advisor.tasks.pricing import Pricing, read_pricing
from advisor.tasks.routing import (
    RouteBook,
    change_routes,
    read_routes,
    refuse_no_routes,
    refuse_unknown_prices,
    sell_prices,
)
from advisor.tasks.walked_prices import WalkedCost, cost_at_walked_prices, walk_price
from advisor.tasks.workspace import Workspace, open_workspace

SOLD = "sale of "


@dataclass(frozen=True)
class Craft:
    """Make or buy of one piece, answered.

    Attributes:
        piece: The book's or the routes' name of it.
        goal: "keep" or "sale".
        advice: The decision.
        costs: What each route costs, by name, at the prices of the quantities it uses.
        count: For how many pieces the money is.
        flips: Where the answer flips, nearest first.
        worth_knowing: What is worth looking up before one decides, most first.
        tries_worth: What more logged tries are worth before one decides, most first.
        made_or_bought: What the best route uses and one could make oneself.
        reasons, cautions: Sentences.
        pricing: The prices that all rests on.
    """

    piece: str
    goal: str
    advice: CraftAdvice
    costs: Mapping[str, RouteCost]
    count: int
    flips: tuple[FlipPoint, ...]
    worth_knowing: tuple[WorthKnowing, ...]
    tries_worth: tuple[TriesWorth, ...]
    made_or_bought: tuple[MadeOrBought, ...]
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    pricing: Pricing

    @property
    def best_cost(self) -> RouteCost | None:
        """What the best route costs; None where no route has an answer."""
        best = self.advice.best
        return None if best is None else self.costs[best.option.route]


@dataclass(frozen=True)
class CraftQuestion:
    """Make or buy of what, and what if.

    Attributes:
        piece: As typed.
        goal: "keep" or "sale".
        count: How many pieces together.
        prices, odds, without: What-ifs as typed: "ITEM=PRICE", "STEP=ODDS", a step's name.
        stated_odds: Odds as the files state them, whatever was logged.
    """

    piece: str
    goal: str = "keep"
    count: int = 1
    prices: tuple[str, ...] = ()
    odds: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    stated_odds: bool = False


def ask_craft(workspace: Workspace, question: CraftQuestion, *, as_of: str | None = None) -> Craft:
    """Answer make or buy from a workspace, as known at a moment.

    Raises: BadInput, WrongUse, CannotAnswer: what cannot be meant or has no answer.
    """
    book = change_routes(read_routes(workspace), odds=question.odds, without=question.without)
    pricing = read_pricing(workspace, as_of=as_of, fixed=question.prices)
    refuse_unknown_prices(pricing, book)
    if question.stated_odds:
        pricing = pricing.at_stated_odds()
    return advise_craft(
        book, pricing, piece=question.piece, goal=question.goal, count=question.count
    )


def other_place(
    workspace: Workspace, against: str, *, as_of: str | None
) -> tuple[Workspace, str | None]:
    """Where and when to answer once more: another workspace's folder, else another date."""
    if (Path(against) / SETTINGS_FILE).is_file():
        return open_workspace(against), as_of
    if Path(against).is_dir():
        raise BadInput(
            "no workspace in this folder", file=against, right="name a workspace or a date"
        )
    return workspace, against


def advise_craft(
    book: RouteBook,
    pricing: Pricing,
    *,
    piece: str,
    goal: str = "keep",
    count: int = 1,
) -> Craft:
    """Answer make or buy for one piece, or for several together.

    Raises: CannotAnswer: no route makes it, or none has prices and nobody sells it.
    """
    notes = [f"{each} was left out: {book.tell(fault)}" for each, fault in book.faults.items()]
    walked, advice = weigh_ways(book, pricing, piece=piece, goal=goal, count=count, notes=notes)
    name = pricing.name(piece)
    costs = {route: each.cost for route, each in walked.items()}
    ways = ask_routes(book, advice, costs, pricing=pricing, goal=goal)
    flips = find_flips(ways, advice, costs, money=pricing.market.money, goal=goal, piece=name)
    worth = find_worth_knowing(advice, _shares_of_one_more(advice, pricing))
    tries = find_tries_worth(ways, advice, pieces=count)
    news = find_price_news(name, advice, costs, pricing)
    notes += warn_of_season(news, pricing)
    notes += [note for cost in costs.values() for note in cost.cautions]
    notes += pricing.market.cautions
    best = None if advice.best is None else costs.get(advice.best.option.route)
    both = [] if best is None else compare_made_and_bought(book, best, pricing)
    return Craft(
        piece=name,
        goal=goal,
        advice=advice,
        costs=costs,
        count=count,
        flips=tuple(flips),
        worth_knowing=tuple(worth),
        tries_worth=tuple(tries),
        made_or_bought=tuple(both),
        reasons=(
            *craft_reasons(
                advice,
                piece=name,
                money=pricing.market.money,
                goal=goal,
                spending=_spending(advice, costs),
                flips=flips,
                worth=worth,
                tries=tries,
                mean_at_levels=_mean_at_levels(advice, walked),
                own_time=None if best is None else best.tell_own_time("what making costs"),
                without_mean=[route for route, cost in costs.items() if cost.mean is None],
            ),
            *tell_made_or_bought(both, pricing.market.money),
        ),
        cautions=tuple(
            craft_cautions(
                advice,
                money=pricing.market.money,
                goal=goal,
                news=news,
                notes=notes,
            )
        ),
        pricing=pricing,
    )


def weigh_ways(
    book: RouteBook,
    pricing: Pricing,
    *,
    piece: str,
    goal: str = "keep",
    count: int = 1,
    notes: list[str] | None = None,
) -> tuple[dict[str, WalkedCost], CraftAdvice]:
    """What each route costs and which way is advised, without what the answer hangs on.

    Args:
        notes: Takes in why a route was left out.
    Raises: CannotAnswer: no route makes it, or none has prices.
    """
    name = pricing.name(piece)
    makers = book.making(name)
    if not makers:
        refuse_no_routes(book, piece)
    told = [] if notes is None else notes
    walked = _cost_every_route(book, makers, pricing, goal=goal, count=count, notes=told)
    buy = _buy_option(name, pricing, count)
    beliefs: dict[str, PriceBelief] = {}
    options = [_route_option(each.cost, pricing, beliefs) for each in walked.values()]
    advice = weigh_craft(
        [each for each in options if each is not None],
        buy,
        beliefs=beliefs,
        goal=goal,
        caution=pricing.settings.trade.caution,
    )
    return walked, advice


def _cost_every_route(
    book: RouteBook,
    makers: Sequence[str],
    pricing: Pricing,
    *,
    goal: str,
    count: int,
    notes: list[str],
) -> dict[str, WalkedCost]:
    """Each route's cost; one that has no answer is left out and said, if another has one."""
    costs: dict[str, WalkedCost] = {}
    faults: list[MakeworthError] = []
    for route in makers:
        try:
            costs[route] = cost_at_walked_prices(book, route, pricing, goal=goal, count=count)
        except MakeworthError as fault:
            faults.append(fault)
            notes.append(f"{route} was left out: {book.tell(fault)}")
    if not costs:
        raise faults[0]
    return costs


def _buy_option(piece: str, pricing: Pricing, count: int) -> BuyOption | None:
    """Buying this many pieces; None where nobody is seen selling one."""
    if piece in pricing.fixed:
        price = count * pricing.fixed[piece]
        return BuyOption(piece, PriceBelief(price), _resale(piece, pricing, count))
    levels = pricing.levels(piece)
    if levels is None or levels.ask is None:
        return None
    belief = believe_level(piece, levels.ask, count * walk_price(piece, count, pricing), pricing)
    return BuyOption(piece, belief, _resale(piece, pricing, count))


def _resale(piece: str, pricing: Pricing, count: int) -> float | None:
    price = sell_prices(pricing).get(piece)
    return None if price is None else count * price


def _route_option(
    cost: RouteCost, pricing: Pricing, beliefs: dict[str, PriceBelief]
) -> RouteOption | None:
    """The route as the decision needs it; its prices are added to the beliefs."""
    if cost.mean is None or cost.odds_sd is None:
        return None
    units: dict[str, float] = {}
    for item, each in cost.use.items():
        if each.mean:
            units[item] = each.mean
            beliefs[item] = believe_price(item, each.unit_price, pricing, side="ask")
    for item, back in cost.gives.items():
        if back.mean and back.unit_price:
            units[SOLD + item] = -back.mean
            beliefs[SOLD + item] = believe_price(item, back.unit_price, pricing, side="sale")
    law = cost.law
    return RouteOption(cost.route, law.values, law.pmf, cost.mean, units, cost.odds_sd)


def _shares_of_one_more(advice: CraftAdvice, pricing: Pricing) -> dict[str, float]:
    """How much of the doubt about each price one more quote would take away, as a share of sd."""
    if advice.best is None or advice.buy is None:
        return {}
    asked = [advice.buy.item, *(each for each in advice.best.option.units if SOLD not in each)]
    shares = {}
    for item in dict.fromkeys(asked):
        name = pricing.name(item)
        levels, looks = pricing.levels(name), pricing.market.items.looks(name)
        if levels is not None and levels.ask is not None and looks is not None:
            shares[f"price of {item}"] = share_learned(levels.ask.log_sd, looks.noise_sd)
    return shares


def _spending(advice: CraftAdvice, costs: Mapping[str, RouteCost]) -> list[SpentOn]:
    if advice.best is None:
        return []
    use = costs[advice.best.option.route].use.values()
    return [SpentOn(each.item, each.mean, each.unit_price) for each in use if each.mean]


def _mean_at_levels(advice: CraftAdvice, walked: Mapping[str, WalkedCost]) -> float | None:
    best = advice.best
    return None if best is None else walked[best.option.route].mean_at_levels
