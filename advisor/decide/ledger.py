"""What was spent, earned and won, from all that happened, in the order in which it did.

Costs move with the things: from purchases into stock, from stock into what is being
made on a route, from there into the finished piece, and out with its sale. A failed try
costs what it used; that is part of what the next piece has cost. What a step gives back
is stock at its net sale value, which the piece in the making no longer carries (IAS 2
*Inventories*, paragraph 14, on by-products).

    profit = earned - (spent - standing)

where `standing` is the cost of what is left: stock, and what is being made. It holds
to the last unit for the whole and for every row, whatever the rows are by.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from advisor.decide.happenings import (
    Bought,
    Happening,
    OrderBegun,
    OrderOver,
    Purpose,
    Sold,
    Tried,
)
from advisor.decide.ledger_lines import Ledger, MadePiece, Posting, StockLine
from advisor.decide.stock_at_cost import Method, StockAtCost, Units, share_of

LevelOf = Callable[[str, int], int | None]
"""What one unit of an item cost at a moment, in smallest units; None where nobody knows."""


class Pool(NamedTuple):
    """Stock that is costed together; `reserved`: bought for a purpose that was named."""

    purpose: Purpose
    reserved: bool = False


_FIRST = {Bought: 0, OrderBegun: 1, Tried: 2, OrderOver: 3, Sold: 4}


@dataclass
class _Work:
    """What has gone into a piece so far."""

    purpose: Purpose
    cost: int = 0
    unlogged: int = 0
    minutes: float = 0.0

    def since(self, noted: _Work | None) -> tuple[int, int, float]:
        """Cost, what of it was not logged, and minutes since the last piece."""
        if noted is None:
            return self.cost, self.unlogged, self.minutes
        return (
            self.cost - noted.cost,
            self.unlogged - noted.unlogged,
            self.minutes - noted.minutes,
        )


def keep_ledger(happenings: Iterable[Happening], *, method: Method, level: LevelOf) -> Ledger:
    """Walk through all that happened.

    At one and the same time purchases come first, then orders taken, attempts, orders
    ended, and sales last; like happenings stay in the order given.

    Args:
        method: How stock is costed.
        level: What an item cost at a moment, for what was never bought through the log.
    """
    books = _Books(method, level)
    ordered = sorted(happenings, key=lambda each: (each.at_us, _FIRST[type(each)]))
    for each in ordered:
        books.enter(each)
    return books.ledger()


@dataclass
class _Books:
    method: Method
    level: LevelOf
    postings: list[Posting] = field(default_factory=list)
    made: list[MadePiece] = field(default_factory=list)
    unpriced: dict[str, None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.stock: StockAtCost[Pool] = StockAtCost(self.method)
        self.works: dict[str, _Work] = {}
        self.open: dict[str, list[OrderBegun]] = defaultdict(list)
        self.orders: dict[int, OrderBegun] = {}
        self.noted: dict[int, _Work] = {}
        self.unworked: list[int] = []
        self._do = {
            Bought: self.buy,
            OrderBegun: self.begin_order,
            Tried: self.try_step,
            OrderOver: self.end_order,
            Sold: self.sell,
        }

    def enter(self, happening: Happening) -> None:
        self._do[type(happening)](happening)  # type: ignore[operator]

    def buy(self, bought: Bought) -> None:
        purpose = bought.purpose or Purpose(bought.item)
        self.postings.append(
            Posting(
                bought.at_us,
                purpose,
                bought.trader,
                spent=bought.cost,
                cost=bought.cost if bought.lost else 0,
                deals=1,
                failed=int(bought.lost),
                broken=int(bought.lost),
                lost=bought.cost if bought.lost else 0,
            )
        )
        if not bought.lost:
            pool = Pool(purpose, bought.purpose is not None)
            self.stock.put(bought.item, pool, units=bought.units, cost=bought.cost)

    def sell(self, sold: Sold) -> None:
        named = Purpose(sold.piece or sold.item, sold.route, sold.order)
        is_named = (sold.piece, sold.route, sold.order) != (None, None, None)
        parts, short = self.stock.take(sold.item, sold.units, rank=_rank_for(named))
        earned_left, value = sold.earned, 0
        for part in parts:
            own = part.pool.purpose
            purpose = named if is_named else Purpose(sold.item, own.route, own.order)
            self._move(sold.at_us, own, purpose, part.cost)
            earned = min(earned_left, share_of(sold.earned, part.units, sold.units))
            earned_left -= earned
            self._post_sale(sold, purpose, earned, part.cost, part.units)
        if short > 0:
            value = self._value_unlogged(sold.item, short, sold.at_us)
            self.postings.append(Posting(sold.at_us, named, spent=value, unlogged=value))
            self._post_sale(sold, named, earned_left, value, short)
            earned_left = 0
        last = self.postings[-1]._replace(deals=1)
        if earned_left:
            last = last._replace(earned=last.earned + earned_left)
        if sold.lost:
            lost = sum(part.cost for part in parts) + value
            last = last._replace(failed=1, broken=1, lost=lost - sold.earned)
        self.postings[-1] = last

    def _post_sale(
        self, sold: Sold, purpose: Purpose, earned: int, cost: int, units: Units
    ) -> None:
        self.postings.append(
            Posting(sold.at_us, purpose, sold.trader, earned=earned, cost=cost, sold=units)
        )

    def _value_unlogged(self, item: str, units: Units, at_us: int) -> int:
        unit = self.level(item, at_us)
        if unit is None:
            self.unpriced[item] = None
            return 0
        return share_of(unit, units, 1)

    def _move(self, at_us: int, source: Purpose, target: Purpose, cost: int) -> None:
        if source != target and cost:
            self.postings.append(Posting(at_us, source, spent=-cost))
            self.postings.append(Posting(at_us, target, spent=cost))

    def begin_order(self, begun: OrderBegun) -> None:
        self.open[begun.route].append(begun)
        self.orders[begun.order] = begun

    def try_step(self, tried: Tried) -> None:
        order = next(iter(self.open[tried.route]), None)
        work = self._work(tried, order)
        work.minutes += tried.minutes
        self.postings.append(Posting(tried.at_us, work.purpose, minutes=tried.minutes))
        if order is not None and not order.own_supplies:
            return
        self._use(tried, work)
        for item, units, value in tried.gives:
            kept = max(0, min(value, work.cost))
            self._move(tried.at_us, work.purpose, Purpose(item), kept)
            self.stock.put(item, Pool(Purpose(item)), units=units, cost=kept)
            work.cost -= kept
        if order is None:
            self._finish(tried, work)
        elif tried.made:
            self._note_made(tried, work, order.order, tried.made)

    def _work(self, tried: Tried, order: OrderBegun | None) -> _Work:
        key = tried.work if order is None else _order_key(order.order)
        purpose = Purpose(tried.makes, tried.route, None if order is None else order.order)
        return self.works.setdefault(key, _Work(purpose))

    def _use(self, tried: Tried, work: _Work) -> None:
        at_us, purpose = tried.at_us, work.purpose
        for item, units in tried.uses:
            parts, short = self.stock.take(item, units, rank=_rank_for(purpose))
            for part in parts:
                self._move(at_us, part.pool.purpose, purpose, part.cost)
                work.cost += part.cost
            if short > 0:
                value = self._value_unlogged(item, short, at_us)
                self.postings.append(Posting(at_us, purpose, spent=value, unlogged=value))
                work.cost += value
                work.unlogged += value
        if tried.paid:
            self.postings.append(Posting(at_us, purpose, spent=tried.paid))
            work.cost += tried.paid

    def _finish(self, tried: Tried, work: _Work) -> None:
        if tried.made:
            self._note_made(tried, work, None, tried.made)
            pool = Pool(work.purpose)
            self.stock.put(tried.makes, pool, units=tried.made, cost=work.cost)
        elif tried.sold_as is not None:
            self.stock.put(tried.sold_as, Pool(work.purpose), units=1, cost=work.cost)
        elif tried.given_up:
            self.postings.append(Posting(tried.at_us, work.purpose, cost=work.cost))
        else:
            return
        work.cost, work.unlogged, work.minutes = 0, 0, 0.0

    def _note_made(self, tried: Tried, work: _Work, order: int | None, units: int) -> None:
        self.postings.append(Posting(tried.at_us, work.purpose, made=units))
        cost, unlogged, minutes = work.since(None if order is None else self.noted.get(order))
        self.made.append(
            MadePiece(
                tried.at_us,
                tried.makes,
                tried.route,
                order,
                units,
                cost=cost,
                unlogged=unlogged,
                minutes=minutes,
            )
        )
        if order is not None:
            self.noted[order] = replace(work)

    def end_order(self, over: OrderOver) -> None:
        order = self.orders[over.order]
        self.open[order.route].remove(order)
        purpose = Purpose(order.makes, order.route, over.order)
        work = self.works.pop(_order_key(over.order), None)
        cost = 0 if work is None else work.cost
        if work is None and order.own_supplies:
            parts, short = self.stock.take(order.makes, over.delivered, rank=_rank_for(purpose))
            if short or over.came == "failed":
                self.unworked.append(over.order)
            for part in parts:
                self._move(over.at_us, part.pool.purpose, purpose, part.cost)
                cost += part.cost
        self.postings.append(
            Posting(
                over.at_us,
                purpose,
                order.customer,
                earned=over.earned,
                cost=cost,
                sold=over.delivered,
                deals=1,
                failed=int(over.came != "done"),
                broken=int(over.came == "broken"),
                lost=cost - over.earned if over.came == "broken" else 0,
            )
        )

    def ledger(self) -> Ledger:
        stock: dict[str, StockLine] = {}
        for item, part in self.stock.held():
            before = stock.get(item, StockLine(item, 0, 0))
            stock[item] = StockLine(item, before.units + part.units, before.cost + part.cost)
        making: dict[str, int] = defaultdict(int)
        for work in self.works.values():
            if work.cost:
                making[work.purpose.route or work.purpose.piece] += work.cost
        return Ledger(
            tuple(self.postings),
            tuple(stock[item] for item in sorted(stock)),
            tuple(sorted(making.items())),
            tuple(self.made),
            tuple(sorted(self.unpriced)),
            tuple(self.unworked),
        )


def _order_key(order: int) -> str:
    return f"order {order}"


def _rank_for(wanted: Purpose) -> Callable[[Pool], int]:
    """Stock bought for this first, then stock for anything, then what is for others."""

    def rank(pool: Pool) -> int:
        if not pool.reserved:
            return 1
        own = pool.purpose
        fits = (
            (own.order is not None and own.order == wanted.order)
            or (own.order is None and own.route is not None and own.route == wanted.route)
            or (own.order is None and own.route is None and own.piece == wanted.piece)
        )
        return 0 if fits else 2

    return rank
