"""Which quotes are one's own listings: the asks that stand under the name of one's stall."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from advisor.book.store import Store
from advisor.names import name_key

if TYPE_CHECKING:
    from advisor.levels.series import QuoteSeries


def own_traders(store: Store, stall: str | None) -> tuple[int, ...]:
    """Codes of the traders that are oneself; none where no stall is named or quoted yet."""
    if stall is None:
        return ()
    rows = store.connection.execute("SELECT id FROM traders WHERE key = ?", (name_key(stall),))
    return tuple(int(code) for (code,) in rows)


def own_asks(
    store: Store, series: Mapping[str, QuoteSeries], *, stall: str | None
) -> frozenset[int]:
    """Ids of the quotes of these items that are one's own listings.

    Args:
        stall: The trader whose asks are one's own; None: nobody's are.
    """
    import numpy as np

    from advisor.levels.series import ASK

    own = own_traders(store, stall)
    if not own:
        return frozenset()
    return frozenset(
        quote
        for each in series.values()
        for quote in each.ids[(each.side == ASK) & np.isin(each.trader, own)].tolist()
    )
