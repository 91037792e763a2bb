"""Every quote of one item, with what the screening made of it, and the user's word on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from advisor.book.rulings import Verdict, rule_quote
from advisor.book.series import quote_rows
from advisor.tasks.pricing import Pricing, known_item
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339


def list_quotes(workspace: Workspace, pricing: Pricing, *, item: str) -> list[dict[str, Any]]:
    """Every quote of one item known at the pricing's moment, oldest first.

    `screened` is null for a quote that counts, else the reason it does not.
    Raises: BadInput: nothing is known of the item.
    """
    name = known_item(item, pricing.names)
    levels = pricing.levels(name)
    reasons = {} if levels is None else levels.screened
    values = {} if levels is None else levels.values
    with workspace.open_book(read_only=True) as store:
        rows = quote_rows(store, name, until_us=pricing.market.as_of_us)
    return [
        {
            "id": row.id,
            "at": us_to_rfc3339(row.at_us),
            "item": row.item,
            "price": row.price_value,
            "price_as_typed": row.price,
            "money": row.money,
            "value": values.get(row.id),
            "side": row.side,
            "qty": row.qty,
            "trader": row.trader,
            "source": row.source,
            "note": row.note,
            "batch": row.batch,
            "screened": reasons.get(row.id),
            "ruling": row.ruling,
        }
        for row in rows
    ]


def rule_quotes(
    workspace: Workspace, *, keep: Sequence[int], drop: Sequence[int], lift: Sequence[int]
) -> None:
    """Keep or drop quotes whatever the screening says, or lift that: all or nothing; remembered.

    Raises: BadInput: a quote that the book does not have, or no ruling to lift.
    """
    rulings: list[tuple[Sequence[int], Verdict | None]]
    rulings = [(keep, "keep"), (drop, "drop"), (lift, None)]
    if not any(quotes for quotes, _ in rulings):
        return
    with workspace.open_book() as store, store.writing():
        for quotes, verdict in rulings:
            for quote in quotes:
                rule_quote(store, quote, verdict=verdict)
