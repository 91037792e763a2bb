"""What the ledger knows for the stock decision: what is on hand, which trader delivers."""

from __future__ import annotations

import math

from advisor.book.trades import count_deals_of_traders
from advisor.decide.stock.trader_trust import TraderRecord
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.workspace import Workspace


def units_on_hand(workspace: Workspace, book: RouteBook, pricing: Pricing) -> dict[str, int]:
    """Whole units of each item that the ledger has in stock, by the book's name of it."""
    with workspace.open_book(read_only=True) as store:
        logged = store.connection.execute("SELECT 1 FROM trades LIMIT 1").fetchone()
    if logged is None:
        return {}
    from advisor.tasks.accounts import read_accounts

    stock = read_accounts(workspace, book, pricing).ledger.stock
    return {line.item: math.floor(line.units) for line in stock if line.units >= 1}


def trader_records(workspace: Workspace, *, until_us: int) -> dict[int, TraderRecord]:
    """The purchases from each trader, by code."""
    with workspace.open_book(read_only=True) as store:
        counts = count_deals_of_traders(store, until_us=until_us)
    return {trader: TraderRecord(kept, failed) for trader, (kept, failed) in counts.items()}
