"""How the ledger looks on a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.cli.screen import show, show_sentences, show_table
from advisor.figures import amount, difference

if TYPE_CHECKING:
    from advisor.tasks.accounts import Accounts
    from advisor.tasks.ledger_rows import By, LedgerRow

METHODS = {"average": "moving average", "fifo": "first in, first out"}
DAYS_SHOWN = 60


def show_ledger(accounts: Accounts, by: By, *, when: str) -> None:
    """The whole: totals, rows, pieces made, stock, what to know."""
    from advisor.tasks.ledger_rows import counted_sum, group_rows

    ledger, money = accounts.ledger, accounts.pricing.market.money
    spent, earned, cost = (ledger.total(name) for name in ("spent", "earned", "cost"))
    method = METHODS[accounts.pricing.settings.trade.ledger]
    show(f"Ledger, {when}, in {money}, stock at {method}")
    show(
        f"spent {counted_sum(spent)}, earned {counted_sum(earned)}; "
        f"still standing at cost {counted_sum(ledger.standing)}"
    )
    show(f"profit {counted_sum(earned - cost)} on what is sold or used up")
    minutes = ledger.total("minutes")
    if minutes:
        show(f"time at the table: {amount(minutes / 60, digits=3)} hours")
    show()
    _show_rows(group_rows(accounts, by), accounts, by)
    _show_made(accounts)
    _show_stock(accounts)
    show_sentences(accounts.cautions, mark="! ")


def _show_rows(rows: list[LedgerRow], accounts: Accounts, by: By) -> None:
    from advisor.tasks.ledger_rows import counted_sum

    shown = [row for row in rows if by != "piece" or row.earned or row.cost or row.made]
    supplies = [row for row in rows if row not in shown]
    if by == "day" and len(shown) > DAYS_SHOWN:
        show(f"the last {DAYS_SHOWN} of {len(shown)} days:")
        shown = shown[-DAYS_SHOWN:]
    has_standing = by in ("piece", "route", "order")
    cells = [
        [
            _label(row, accounts, by),
            *(counted_sum(each) for each in (row.spent, row.earned, row.profit)),
            *([counted_sum(row.standing)] * has_standing),
            *_counts(row, by),
        ]
        for row in shown
    ]
    if supplies:
        sums = [sum(getattr(row, name) for row in supplies) for name in ("spent", "standing")]
        told = [counted_sum(each) for each in sums]
        cells.append(["(supplies)", told[0], "0", "0", told[1], "", ""])
    headings = [by, "spent", "earned", "profit", *(["standing"] * has_standing)]
    headings += _count_headings(by)
    show_table(headings, cells, right="l" + "r" * (len(headings) - 1))
    if has_standing:
        show("standing: cost of what is still there; profit = earned - (spent - standing).")
    else:
        show("profit: earned, less the cost of what was sold or used up.")
        if by == "trader":
            show("not kept: paid and nothing came, handed over and not paid, an order broken.")
    show()


def _label(row: LedgerRow, accounts: Accounts, by: By) -> str:
    if row.key is None:
        return f"(no {by})"
    if by != "order":
        return str(row.key)
    order = accounts.orders[int(row.key)]
    came = "open" if order.end is None else order.end.came
    return f"{order.number} {order.customer}, {came}"


def _count_headings(by: By) -> list[str]:
    if by == "trader":
        return ["kept", "not kept", "lost by it"]
    return ["deals", "failed"] if by == "order" else ["made", "sold"]


def _counts(row: LedgerRow, by: By) -> list[str]:
    from advisor.tasks.ledger_rows import counted_sum

    if by == "trader":
        return [str(row.deals - row.broken), str(row.broken), counted_sum(row.lost)]
    if by == "order":
        return [str(row.deals), str(row.failed)]
    return [amount(row.made), amount(row.sold)]


def _show_made(accounts: Accounts) -> None:
    from advisor.tasks.accounts import SMALLEST
    from advisor.tasks.ledger_rows import counted_sum, in_money, made_by_piece

    made = made_by_piece(accounts.ledger)
    for piece, (units, cost) in made.items():
        own = [each.cost / each.units for each in accounts.ledger.made if each.piece == piece]
        low, high = (amount(each / SMALLEST) for each in (min(own), max(own)))
        between = "" if low == high else f", between {low} and {high}"
        show(f"made {units} {piece}: each cost {amount(in_money(cost) / units)}{between}")
    for route, cost in accounts.ledger.in_making:
        show(f"on the table of {route}: {counted_sum(cost)} so far")
    if made or accounts.ledger.in_making:
        show()


def _show_stock(accounts: Accounts) -> None:
    from advisor.tasks.ledger_rows import counted_sum, in_money

    stock = accounts.ledger.stock
    if not stock:
        show("nothing is in stock")
        return
    rows = [
        [
            line.item,
            amount(float(line.units)),
            amount(in_money(line.cost) / float(line.units)),
            counted_sum(line.cost),
            amount(accounts.values_now.get(line.item)),
        ]
        for line in stock
    ]
    show_table(["in stock", "units", "each cost", "cost", "brings now"], rows, right="lrrrr")
    valued = [line for line in stock if line.item in accounts.values_now]
    if not valued:
        return
    cost = in_money(sum(line.cost for line in valued))
    gain = difference(sum(accounts.values_now.values()), cost)
    word = f"{amount(abs(gain))} {'more than' if gain > 0 else 'less than'}"
    show(f"sold now, it would bring {word if gain else 'just as much as'} it cost")
