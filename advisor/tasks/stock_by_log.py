"""Whether as much of an item is in stock, by the log, as a sale hands over."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from advisor.book.trades import Trade
from advisor.errors import MakeworthError
from advisor.money import show_amount
from advisor.names import name_key
from advisor.tasks.accounts import read_accounts
from advisor.tasks.pricing import read_pricing
from advisor.times import us_to_rfc3339

if TYPE_CHECKING:
    from advisor.tasks.routing import RouteBook
    from advisor.tasks.workspace import Workspace


def note_short_stock(workspace: Workspace, book: RouteBook, sale: Trade) -> str | None:
    """What to know of a sale, not written down yet, of more than the log has in stock.

    None where there is enough, where what is sold is a money, and where the ledger
    cannot be kept: the sale is written down all the same.
    """
    try:
        pricing = read_pricing(workspace, as_of=us_to_rfc3339(sale.at_us))
        accounts = read_accounts(workspace, book, pricing)
    except MakeworthError:
        return None
    key = name_key(pricing.name(sale.item))
    if key in accounts.moneys:
        return None
    here = sum(
        (Fraction(line.units) for line in accounts.ledger.stock if name_key(line.item) == key),
        Fraction(0),
    )
    short = sale.qty - here
    if short <= 0:
        return None
    count = "counts" if short == 1 else "count"
    return (
        f"you have {show_amount(here) if here else 'none'} in stock by the log; "
        f"{show_amount(short)} {count} at the price of {'its' if short == 1 else 'their'} time"
    )
