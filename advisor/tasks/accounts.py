"""The ledger of a workspace: everything logged, valued at the rates of its time."""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from advisor.book.attempts import Attempt, list_attempts
from advisor.book.orders import Order, read_orders
from advisor.book.trades import Trade, read_trades
from advisor.decide.happenings import (
    Bought,
    Happening,
    OrderBegun,
    OrderOver,
    Purpose,
    Sold,
    Tried,
)
from advisor.decide.ledger import keep_ledger
from advisor.decide.ledger_lines import Ledger
from advisor.names import name_key
from advisor.tasks.levels_then import LevelsThen
from advisor.tasks.money_rates import rates_at
from advisor.tasks.used_supplies import RouteSupplies

if TYPE_CHECKING:
    from advisor.book.store import Store
    from advisor.levels.rates import Rates
    from advisor.tasks.pricing import Pricing
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.workspace import Workspace

SMALLEST = 10**18
"""Amounts are counted in whole parts of this fineness of one unit of the workspace money."""

ORDERS_NAMED = 5


@dataclass(frozen=True)
class Accounts:
    """The ledger and what it takes to show it.

    Attributes:
        values_now: What the stock of an item would bring now, net of the fee, in the
            workspace money; absent where nobody knows.
        orders: By number.
        cautions: What to know beside it.
        moneys: Keys of what one trades in, which is never stock.
    """

    ledger: Ledger
    pricing: Pricing
    values_now: Mapping[str, float]
    orders: Mapping[int, Order]
    cautions: tuple[str, ...]
    moneys: frozenset[str]


def read_accounts(workspace: Workspace, book: RouteBook, pricing: Pricing) -> Accounts:
    """Keep the ledger of all that was logged by the moment of the prices.

    Moneys in which one trades are no stock: what is paid or received in them counts at
    the rate of its moment, and changing one into another is neither spent nor earned.
    """
    with _no_collecting():
        return _read_accounts(workspace, book, pricing)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Make many small values without the collector looking through all of them time and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read_accounts(workspace: Workspace, book: RouteBook, pricing: Pricing) -> Accounts:
    until = pricing.market.as_of_us
    with workspace.open_book(read_only=True) as store, store.reading():
        trades = read_trades(store, until_us=until)
        orders = read_orders(store, until_us=until)
        attempts = _read_attempts(store, until)
    levels = LevelsThen(pricing)
    values = _Values(pricing.market.rates, levels, trades=trades, orders=orders)
    reader = _Happenings(pricing, values, levels)
    happenings: list[Happening] = [
        *reader.trades(trades),
        *reader.orders(orders, book),
        *reader.attempts(attempts, book),
    ]

    def level(item: str, at_us: int) -> int | None:
        price = levels.buying(item, at_us)
        return None if price is None else whole(_estimate(price))

    ledger = keep_ledger(happenings, method=pricing.settings.trade.ledger, level=level)
    now = {line.item: levels.sale_now(line.item) for line in ledger.stock}
    return Accounts(
        ledger,
        pricing,
        {
            line.item: value * float(line.units)
            for line in ledger.stock
            if (value := now[line.item]) is not None
        },
        {order.number: order for order in orders},
        tuple(_cautions(ledger, reader.skipped, now)),
        frozenset(values.moneys),
    )


def whole(amount: Fraction) -> int:
    """An amount of the workspace money in whole smallest parts, a half rounded up."""
    top, bottom = amount.numerator * SMALLEST, amount.denominator
    return (2 * top + bottom) // (2 * bottom)


def _estimate(price: float) -> Fraction:
    """A level or rate, which is an estimate, to the digits that it has."""
    return Fraction(f"{price:.12g}")


def _read_attempts(store: Store, until_us: int) -> list[Attempt]:
    routes = store.connection.execute("SELECT DISTINCT route FROM attempts ORDER BY route")
    return [
        attempt
        for (route,) in routes.fetchall()
        for attempt in list_attempts(store, route=route, until_us=until_us)
    ]


class _Values:
    """Amounts in any money as whole parts of the workspace money, at the rate of their time."""

    def __init__(
        self, rates: Rates, levels: LevelsThen, *, trades: list[Trade], orders: list[Order]
    ) -> None:
        moments: dict[str, set[int]] = defaultdict(set)
        for trade in trades:
            moments[trade.money].add(trade.at_us)
        for order in orders:
            moments[order.money].add(order.at_us if order.end is None else order.end.at_us)
        self._rates, self._levels = rates, levels
        self._home = name_key(rates.money)
        self._known: dict[tuple[str, int], Fraction | None] = {}
        self._homes: dict[str, bool] = {}
        for money, own in moments.items():
            if not self._is_home(money):
                self._look_up(money, sorted(own))
        self.moneys = {name_key(money) for money in moments} | {self._home}

    def of_trade(self, trade: Trade) -> int | None:
        """What a trade took or brought, net of its fee; None where no road leads there."""
        qty, price = trade.qty, trade.price
        top = qty.numerator * price.numerator
        bottom = qty.denominator * price.denominator
        if trade.fee:
            top = top * trade.fee.denominator - trade.fee.numerator * bottom
            bottom *= trade.fee.denominator
        if not self._is_home(trade.money):
            rate = self._rate(trade.money, trade.at_us)
            if rate is None:
                return None
            top, bottom = top * rate.numerator, bottom * rate.denominator
        # As whole(), without making a fraction of each: there may be many trades.
        return (2 * top * SMALLEST + bottom) // (2 * bottom)

    def of(self, amount: Fraction, money: str, at_us: int) -> int | None:
        """The value; None where no road leads from the money."""
        if self._is_home(money):
            return whole(amount)
        rate = self._rate(money, at_us)
        return None if rate is None else whole(amount * rate)

    def _rate(self, money: str, at_us: int) -> Fraction | None:
        if (money, at_us) not in self._known:
            self._look_up(money, [at_us])
        return self._known[money, at_us]

    def _is_home(self, money: str) -> bool:
        if money not in self._homes:
            self._homes[money] = name_key(money) == self._home
        return self._homes[money]

    def _look_up(self, money: str, moments: list[int]) -> None:
        """Note the rates of a money; where nothing is priced in it, its own price is its rate."""
        for at_us, rate in zip(moments, rates_at(self._rates, money, moments), strict=True):
            found = self._levels.buying(money, at_us) if rate is None else rate
            self._known[money, at_us] = None if found is None else _estimate(found)


class _Happenings:
    """Turns what was logged into what the ledger walks through."""

    def __init__(self, pricing: Pricing, values: _Values, levels: LevelsThen) -> None:
        self._pricing = pricing
        self._values = values
        self._levels = levels
        self.skipped: dict[str, int] = defaultdict(int)

    def trades(self, trades: list[Trade]) -> Iterator[Happening]:
        moneys = self._values.moneys
        items = {each.item for each in trades}
        is_money = {item: name_key(item) in moneys for item in items}
        for trade in trades:
            if is_money[trade.item] and not trade.broken:
                continue
            value = self._values.of_trade(trade)
            if value is None:
                self.skipped[f"trades in {trade.money}, which has no rate"] += 1
                continue
            yield _bought(trade, value) if trade.kind == "buy" else _sold(trade, value)

    def orders(self, orders: list[Order], book: RouteBook) -> Iterator[Happening]:
        for order in orders:
            route = book.routes.get(order.route)
            makes = order.route if route is None else self._pricing.name(route.makes)
            own = order.supplies == "mine"
            yield OrderBegun(order.at_us, order.number, order.route, makes, order.customer, own)
            if order.end is None:
                continue
            end = order.end
            value = self._values.of(end.paid - end.fee, order.money, end.at_us)
            if value is None:
                self.skipped[f"payments in {order.money}, which has no rate"] += 1
            yield OrderOver(end.at_us, order.number, end.came, end.delivered, value or 0)

    def attempts(self, attempts: list[Attempt], book: RouteBook) -> Iterator[Happening]:
        readers: dict[str, RouteSupplies | None] = {}
        for attempt in attempts:
            if attempt.route not in readers:
                route = book.routes.get(attempt.route)
                readers[attempt.route] = None if route is None else RouteSupplies(route)
            reader = readers[attempt.route]
            tried = None if reader is None else self._tried(reader, attempt)
            if tried is not None:
                yield tried
            elif attempt.action != "moved":
                what = attempt.action if attempt.step is None else f"step {attempt.step!r}"
                self.skipped[f"attempts of {what}, which {attempt.route} no longer has"] += (
                    attempt.tries
                )

    def _tried(self, reader: RouteSupplies, attempt: Attempt) -> Tried | None:
        used = reader.used(attempt)
        if used is None:
            return None
        at_us, name = attempt.at_us, self._pricing.name
        paid = sum(
            (self._money(item, units, at_us) or 0) for item, units in used.uses.items()
        ) - sum((self._money(item, units, at_us) or 0) for item, units in used.gives.items())
        return Tried(
            at_us,
            attempt.route,
            attempt.route if attempt.session is None else f"piece {attempt.session}",
            name(reader.route.makes),
            uses=[
                (name(item), units)
                for item, units in used.uses.items()
                if item is not None and self._money(item, units, at_us) is None and units
            ],
            paid=paid,
            gives=[
                (name(item), units, self._selling(name(item), units, at_us))
                for item, units in used.gives.items()
                if item is not None and self._money(item, units, at_us) is None and units
            ],
            made=used.made,
            sold_as=None if used.sold_as is None else name(used.sold_as),
            given_up=used.given_up,
            minutes=used.minutes,
        )

    def _money(self, item: str | None, units: Fraction, at_us: int) -> int | None:
        """The value of units of a money; None for what is no money."""
        if item is None:
            return whole(units)
        name = self._pricing.name(item)
        if name_key(name) not in self._values.moneys:
            return None
        return self._values.of(units, name, at_us) or 0

    def _selling(self, item: str, units: Fraction, at_us: int) -> int:
        price = self._levels.selling(item, at_us)
        return 0 if price is None else whole(units * _estimate(price))


def _units(exact: Fraction) -> int | Fraction:
    return exact.numerator if exact.denominator == 1 else exact


def _bought(trade: Trade, value: int) -> Bought:
    named = (trade.piece, trade.route, trade.order) != (None, None, None)
    purpose = Purpose(trade.piece or trade.item, trade.route, trade.order) if named else None
    return Bought(
        trade.at_us,
        trade.item,
        _units(trade.qty),
        value,
        trader=trade.trader,
        purpose=purpose,
        lost=trade.broken,
    )


def _sold(trade: Trade, value: int) -> Sold:
    return Sold(
        trade.at_us,
        trade.item,
        _units(trade.qty),
        0 if trade.broken else value,
        trader=trade.trader,
        piece=trade.piece,
        route=trade.route,
        order=trade.order,
        lost=trade.broken,
    )


def _cautions(
    ledger: Ledger, skipped: Mapping[str, int], now: Mapping[str, float | None]
) -> Iterator[str]:
    for what, count in sorted(skipped.items()):
        yield f"left out: {count} {what}"
    if ledger.unpriced:
        names = ", ".join(ledger.unpriced)
        yield f"never bought through the log and never quoted, so counted as free: {names}"
    if ledger.unworked:
        yield (
            f"no attempts are logged for {_said_orders(ledger.unworked)}, so that what was used "
            "counts nothing and the profit is too high: log them before it ends, with makeworth "
            "log try"
        )
    unlogged = ledger.total("unlogged")
    spent = ledger.total("spent")
    if unlogged:
        yield (
            f"{100 * unlogged / spent:.0f} % of what was spent was never bought through the log: "
            "it counts at the price of its time; log it with makeworth log buy"
        )
    unknown = [item for item, value in now.items() if value is None]
    if unknown:
        yield f"nobody knows what these would bring now: {', '.join(sorted(unknown))}"


def _said_orders(numbers: Sequence[int]) -> str:
    shown = ", ".join(str(number) for number in numbers[:ORDERS_NAMED])
    more = f" and {len(numbers) - ORDERS_NAMED} more" if len(numbers) > ORDERS_NAMED else ""
    return f"order{'' if len(numbers) == 1 else 's'} {shown}{more}"
