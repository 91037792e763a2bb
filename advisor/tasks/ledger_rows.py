"""Rows of the ledger by piece, order, route, trader, day or season, and its JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any, Literal, get_args

from advisor.book.orders import Order
from advisor.decide.ledger_lines import Ledger, MadePiece, Posting
from advisor.errors import WrongUse
from advisor.figures import amount, difference
from advisor.money import show_amount
from advisor.names import did_you_mean
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.accounts import SMALLEST, Accounts
from advisor.times import us_to_rfc3339

By = Literal["piece", "order", "route", "trader", "day", "season"]


@dataclass
class LedgerRow:
    """Sums of one row; money in whole smallest parts.

    Attributes:
        key: What it is of; None for what is of none.
        cost: Of what was sold, used up or lost.
        broken: Deals and orders whose other side did not keep their word.
        lost: What those cost, less what was paid all the same.
    """

    key: str | int | None
    spent: int = 0
    earned: int = 0
    cost: int = 0
    unlogged: int = 0
    minutes: float = 0.0
    made: float = 0.0
    sold: float = 0.0
    deals: int = 0
    failed: int = 0
    broken: int = 0
    lost: int = 0

    @property
    def profit(self) -> int:
        """What was won on what is no longer there."""
        return self.earned - self.cost

    @property
    def standing(self) -> int:
        """Cost of what is still there: in stock or on the table."""
        return self.spent - self.cost

    def add(self, posting: Posting) -> None:
        """Take one line of the ledger into the sums."""
        self.spent += posting.spent
        self.earned += posting.earned
        self.cost += posting.cost
        self.unlogged += posting.unlogged
        self.minutes += posting.minutes
        self.made += float(posting.made)
        self.sold += float(posting.sold)
        self.deals += posting.deals
        self.failed += posting.failed
        self.broken += posting.broken
        self.lost += posting.lost


def known_by(typed: str) -> By:
    """What to group by, as typed.

    Raises: WrongUse: none of the known ones.
    """
    known = get_args(By)
    for each in known:
        if typed.strip().casefold() == each:
            return each  # type: ignore[no-any-return]
    right = did_you_mean(typed, known) or "known are " + ", ".join(known)
    raise WrongUse(f"--by {typed!r} is not known", right=right)


def group_rows(accounts: Accounts, by: By) -> list[LedgerRow]:
    """The rows, in order; what is of none comes last."""
    rows: dict[str | int | None, LedgerRow] = {}
    key_of = _Keys(accounts, by)
    for posting in accounts.ledger.postings:
        key = key_of.key(posting)
        row = rows.get(key)
        if row is None:
            row = rows[key] = LedgerRow(key)
        row.add(posting)
    known = [row for key, row in rows.items() if key is not None]
    if by == "season":
        starts = {each.name: each.start_us for each in accounts.pricing.settings.seasons}
        known.sort(key=lambda row: starts[str(row.key)])
    elif by == "order":
        known.sort(key=lambda row: int(row.key or 0))
    else:
        known.sort(key=lambda row: str(row.key))
    return [*known, rows[None]] if None in rows else known


class _Keys:
    def __init__(self, accounts: Accounts, by: By) -> None:
        self._by = by
        self._zone = accounts.pricing.settings.timezone
        self._seasons = accounts.pricing.settings.seasons
        self._days: dict[int, str] = {}

    def key(self, posting: Posting) -> str | int | None:
        if self._by == "trader":
            return posting.trader
        if self._by == "day":
            return self._day(posting.at_us)
        if self._by == "season":
            within = (s.name for s in self._seasons if s.start_us <= posting.at_us < s.end_us)
            return next(within, None)
        found: str | int | None = getattr(posting.purpose, self._by)
        return found

    def _day(self, at_us: int) -> str:
        quarter = at_us // (MICROSECONDS_A_DAY // 96)  # days begin on these in every zone
        if quarter not in self._days:
            moment = datetime.fromtimestamp(at_us // 1_000_000, self._zone)
            self._days[quarter] = f"{moment:%Y-%m-%d}"
        return self._days[quarter]


def in_money(parts: int) -> float:
    """Whole smallest parts as units of the workspace money, rounded once."""
    return parts / SMALLEST


def counted_sum(parts: int) -> str:
    """A sum of the ledger as shown: to the hundredth, so that columns add up.

    >>> counted_sum(1076_800 * 10**15), counted_sum(2 * 10**15)
    ('1076.8', '0.002')
    """
    exact = Fraction(parts, SMALLEST)
    return (
        show_amount(exact) if not parts or abs(exact) >= Fraction(1, 100) else amount(float(exact))
    )


def ledger_json(accounts: Accounts, by: By) -> dict[str, Any]:
    """The answer by its contract."""
    ledger = accounts.ledger
    spent, earned, cost = (ledger.total(name) for name in ("spent", "earned", "cost"))
    stock_cost = sum(line.cost for line in ledger.stock)
    valued = accounts.values_now
    cost_valued = sum(line.cost for line in ledger.stock if line.item in valued)
    return {
        "money": accounts.pricing.market.money,
        "as_of": us_to_rfc3339(accounts.pricing.market.as_of_us),
        "method": accounts.pricing.settings.trade.ledger,
        "stock": [
            {
                "item": line.item,
                "qty": _number(line.units),
                "unit_cost": in_money(line.cost) / float(line.units),
                "cost": in_money(line.cost),
                "value_now": valued.get(line.item),
            }
            for line in ledger.stock
        ],
        "in_making": [{"route": name, "cost": in_money(cost)} for name, cost in ledger.in_making],
        "earned": in_money(earned),
        "spent": in_money(spent),
        "profit": in_money(earned - cost),
        "cost_of_goods": in_money(cost),
        "standing": in_money(ledger.standing),
        "stock_cost": in_money(stock_cost),
        "not_yet": difference(sum(valued.values()), in_money(cost_valued)),
        "not_logged": in_money(ledger.total("unlogged")),
        "minutes": ledger.total("minutes"),
        "by": [_row_json(row, by, accounts.orders) for row in group_rows(accounts, by)],
        "made": [_made_json(each) for each in ledger.made],
        "cautions": list(accounts.cautions),
    }


def _row_json(row: LedgerRow, by: By, orders: Any) -> dict[str, Any]:
    answer: dict[str, Any] = {
        by: row.key,
        "spent": in_money(row.spent),
        "earned": in_money(row.earned),
        "profit": in_money(row.profit),
        "standing": in_money(row.standing),
        "not_logged": in_money(row.unlogged),
        "minutes": row.minutes,
        "made": row.made,
        "sold": row.sold,
        "deals": row.deals,
        "failed": row.failed,
        "broken": row.broken,
        "lost": in_money(row.lost),
    }
    order: Order | None = orders.get(row.key) if by == "order" else None
    if order is not None:
        answer["customer"] = order.customer
        answer["came"] = None if order.end is None else order.end.came
    return answer


def _made_json(made: MadePiece) -> dict[str, Any]:
    return {
        "at": us_to_rfc3339(made.at_us),
        "piece": made.piece,
        "route": made.route,
        "order": made.order,
        "qty": made.units,
        "cost": in_money(made.cost),
        "unit_cost": in_money(made.cost) / made.units,
        "not_logged": in_money(made.unlogged),
        "minutes": made.minutes,
    }


def _number(units: Any) -> int | float:
    return int(units) if units == int(units) else float(units)


def made_by_piece(ledger: Ledger) -> dict[str, tuple[int, int]]:
    """Pieces made, and their cost in all, by piece."""
    sums: dict[str, tuple[int, int]] = {}
    for each in ledger.made:
        units, cost = sums.get(each.piece, (0, 0))
        sums[each.piece] = (units + each.units, cost + each.cost)
    return sums
