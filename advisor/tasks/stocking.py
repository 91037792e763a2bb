"""How many supplies to buy, when, and at most at what price: gathers and answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from advisor.decide.stock.stock_reasons import stock_cautions, stock_reasons
from advisor.errors import WrongUse
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.stock_items import SupplyAnswer, answer_supplies, find_offer
from advisor.tasks.stock_ledger import trader_records, units_on_hand
from advisor.tasks.stock_markets import find_market, read_tiers, season_days_left
from advisor.tasks.stock_needs import (
    Order,
    SupplyNeeds,
    chance_any_short,
    find_needs,
    read_orders,
)
from advisor.tasks.stock_purse import PursePlan, plan_purse
from advisor.tasks.stock_purse_table import PurseTable
from advisor.tasks.stock_told import on_hand_note, price_notes, tell_stock, trader_names
from advisor.tasks.workspace import Workspace

MOST_DAYS = 120
TRIP_MINUTES = 10.0
"""Minutes that going to the market once more takes, unless said."""


@dataclass(frozen=True)
class StockTerms:
    """How the user buys, as typed.

    Attributes:
        within: Days until all must be there; None: tomorrow.
        on_hand: "ITEM=UNITS" each.
        also: "ROUTE=PIECES" each.
        tiers, tiers_beyond: "ITEM=LOT:PRICE,..." each.
        tied_up: Share that money costs for each day it lies in stock, >= 0.
        trip_minutes: Minutes that one more way to the market takes, >= 0.
    """

    within: int | None = None
    on_hand: Sequence[str] = ()
    also: Sequence[str] = ()
    tiers: Sequence[str] = ()
    tiers_beyond: Sequence[str] = ()
    tied_up: float = 0.0
    trip_minutes: float = TRIP_MINUTES


@dataclass(frozen=True)
class Stock:
    """The answer.

    Attributes:
        orders: What is to be made; the first is the route asked for.
        days: Days until all must be there.
        supplies: One an item, in the order of use.
        together: Groups of items that are used up at one pace.
        chance_any_short: That something that is stocked runs short after buying today.
        purse: How the budget is used; None without one.
        traders: Names by the codes in the lots.
        reasons, cautions: Sentences.
        pricing: The prices that all rests on.
    """

    orders: Sequence[Order]
    days: int
    supplies: Sequence[SupplyAnswer]
    together: Sequence[tuple[str, ...]]
    chance_any_short: float
    purse: PursePlan | None
    traders: Mapping[int, str]
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    pricing: Pricing

    @property
    def spend_now(self) -> float:
        """Money spent today."""
        return sum(float(each.advice.spent[each.advice.place]) for each in self.supplies)

    @property
    def expected_cost(self) -> float:
        """Mean cost of all supplies, the advised way."""
        return sum(each.advice.expected_cost for each in self.supplies)

    @property
    def plain_cost(self) -> float:
        """Mean cost of the plain habit."""
        return sum(each.advice.plain_cost for each in self.supplies)


def advise_stock(
    workspace: Workspace,
    book: RouteBook,
    pricing: Pricing,
    *,
    route: str,
    pieces: int,
    terms: StockTerms,
    budget: float | None = None,
) -> Stock:
    """Answer how many supplies to buy for some pieces by a route.

    Args:
        budget: All the money for these pieces, today and later, in the workspace money;
            None: enough.

    Raises: WrongUse, BadInput: terms that cannot be meant. CannotAnswer: no route, or
        an item without a price.
    """
    _refuse_unsound(terms)
    if budget is not None and not 0 <= budget < float("inf"):
        raise WrongUse(f"--budget {budget:g} is no budget", right="0 or more")
    orders = read_orders(book, route, pieces, also=terms.also)
    notes: list[str] = []
    days = _days_to_buy_in(terms, pricing, notes)
    kept = units_on_hand(workspace, book, pricing)
    needs = find_needs(book, orders, pricing=pricing, on_hand=terms.on_hand, kept=kept)
    tiers = read_tiers(terms.tiers, terms.tiers_beyond, items=list(needs.use), pricing=pricing)
    records = trader_records(workspace, until_us=pricing.market.as_of_us)
    markets = {
        item: find_market(item, pricing, days=days, tiers=tiers.get(item), records=records)
        for item in needs.use
    }

    def answer(needed: SupplyNeeds) -> list[SupplyAnswer]:
        trip = _trip_cost(terms, pricing)
        return answer_supplies(needed, markets, days=days, trip_cost=trip, money_rate=terms.tied_up)

    supplies, purse = answer(needs), None
    if budget is not None:
        needs, supplies, purse = _within_purse(
            orders, needs, supplies, book=book, pricing=pricing, budget=budget, answer=answer
        )
    supplies = [replace(each, offer=find_offer(each)) for each in supplies]
    traders = trader_names(workspace, supplies)
    told = tell_stock(supplies, traders, records, purse=purse, orders=orders, pricing=pricing)
    stories, purse_said, purse_cautioned = told
    notes += [*on_hand_note(needs, kept), *purse_cautioned, *price_notes(supplies, pricing)]
    money = pricing.market.money
    return Stock(
        orders=orders,
        days=days,
        supplies=supplies,
        together=needs.together,
        chance_any_short=_chance_any_short(
            orders if purse is None else purse.started, needs, supplies, pricing=pricing, book=book
        ),
        purse=purse,
        traders=traders,
        reasons=tuple(stock_reasons(stories, money=money, days=days, purse=purse_said)),
        cautions=tuple(
            stock_cautions(
                stories, money=money, notes=[*notes, *needs.cautions, *pricing.market.cautions]
            )
        ),
        pricing=pricing,
    )


def _chance_any_short(
    orders: Sequence[Order],
    needs: SupplyNeeds,
    supplies: Sequence[SupplyAnswer],
    *,
    pricing: Pricing,
    book: RouteBook,
) -> float:
    """Exact where all is used up at one pace; else played out."""
    chances = {each.item: each.advice.chance_short for each in supplies if each.market.stockable}
    groups = [group for group in needs.together if any(item in chances for item in group)]
    if len(groups) <= 1:
        return chance_any_short(chances, groups)
    return PurseTable(needs.costs, supplies, pricing=pricing, book=book).chance_any_short(orders)


def _refuse_unsound(terms: StockTerms) -> None:
    if terms.within is not None and not 1 <= terms.within <= MOST_DAYS:
        raise WrongUse(f"--within {terms.within} is out of range", right=f"1 to {MOST_DAYS} days")
    if not 0 <= terms.tied_up < 1:
        raise WrongUse(f"--tied-up {terms.tied_up:g} is no share", right='such as "0.5 %"')
    if not 0 <= terms.trip_minutes <= 1440:
        raise WrongUse(f"--trip-minutes {terms.trip_minutes:g} is out of range", right="0 to 1440")


def _days_to_buy_in(terms: StockTerms, pricing: Pricing, notes: list[str]) -> int:
    """The days asked for, cut where the season ends before."""
    days, left = terms.within or 1, season_days_left(pricing)
    if left is not None and days > max(left, 1):
        days = max(left, 1)
        ends = f"in {left} days" if left > 1 else "tomorrow" if left else "within a day"
        notes.append(
            f"The season ends {ends}: the time to buy in is cut to {days}, and what is "
            "left over then counts nothing."
        )
    return days


def _trip_cost(terms: StockTerms, pricing: Pricing) -> float:
    return float(pricing.settings.trade.hour_value) * terms.trip_minutes / 60.0


def _within_purse(
    orders: Sequence[Order],
    needs: SupplyNeeds,
    supplies: Sequence[SupplyAnswer],
    *,
    book: RouteBook,
    pricing: Pricing,
    budget: float,
    answer: Callable[[SupplyNeeds], list[SupplyAnswer]],
) -> tuple[SupplyNeeds, list[SupplyAnswer], PursePlan]:
    """The pieces worth starting, what they need, and what of it to buy today."""
    plan_use = partial(plan_purse, pricing=pricing, book=book, budget=budget)
    plan = plan_use(orders, needs.costs, supplies=supplies)
    answers = list(supplies)
    if not plan.all_started:
        kept = needs.on_hand
        needs = find_needs(book, plan.started, pricing=pricing, on_hand=(), kept=kept)
        answers = answer(needs)
        fewer = plan_use(plan.started, needs.costs, supplies=answers)
        plan = plan.with_fewer(fewer)
    places = zip(answers, plan.places, strict=True)
    shared = [replace(each, advice=replace(each.advice, place=place)) for each, place in places]
    return needs, shared, plan
