"""One item's quotes as arrays, and what the user has settled about the market."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.quotes import SIDES

ASK, BID, DEAL = range(len(SIDES))

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class QuoteSeries:
    """Every quote of one item, as arrays of one length in the order of time.

    Rows may be given in any order: they are sorted by time, and quotes of the
    same microsecond by what they say, so that the order of rows never matters.

    Attributes:
        item: The item's name.
        ids: The quotes' ids in the book, unique in a market.
        at_us: When each was seen, microseconds since 1970 UTC.
        price: Price of one unit, in the quote's own money.
        money_names: Names that `money` points into.
        money: Index into `money_names`.
        side: 0 ask, 1 bid, 2 deal.
        qty: Units, nan where not said.
        trader: A code that is the same for the same trader in every series, -1 unknown.
    """

    item: str
    ids: Ints
    at_us: Ints
    price: Floats
    money_names: tuple[str, ...]
    money: Ints
    side: Ints
    qty: Floats
    trader: Ints

    def __post_init__(self) -> None:
        columns: dict[str, NDArray[np.generic]] = {
            name: np.asarray(getattr(self, name), dtype=np.int64)
            for name in ("ids", "at_us", "money", "side", "trader")
        }
        columns |= {
            name: np.asarray(getattr(self, name), dtype=np.float64) for name in ("price", "qty")
        }
        if len({column.shape for column in columns.values()}) != 1:
            raise ValueError(f"columns of {self.item!r} differ in length")
        if not np.all(np.diff(columns["at_us"].astype(np.int64)) > 0):  # ties need the others
            keys = ("trader", "qty", "price", "money", "side", "at_us")
            order = np.lexsort(tuple(columns[key] for key in keys))
            columns = {name: column[order] for name, column in columns.items()}
        for name, column in columns.items():
            object.__setattr__(self, name, column)

    def __len__(self) -> int:
        return len(self.ids)


def make_series(
    item: str,
    price: ArrayLike,
    *,
    at_us: ArrayLike,
    money: str | Sequence[str],
    side: int | Sequence[int] = ASK,
    qty: ArrayLike | None = None,
    trader: ArrayLike | None = None,
    first_id: int = 0,
) -> QuoteSeries:
    """A `QuoteSeries` from plain lists; ids count up from `first_id` in the order given."""
    prices = np.atleast_1d(np.asarray(price, dtype=np.float64))
    n = len(prices)
    spelled = [money] * n if isinstance(money, str) else list(money)
    names = tuple(sorted(set(spelled)))
    return QuoteSeries(
        item=item,
        ids=np.arange(first_id, first_id + n),
        at_us=np.atleast_1d(np.asarray(at_us, dtype=np.int64)),
        price=prices,
        money_names=names,
        money=np.array([names.index(each) for each in spelled], dtype=np.int64),
        side=np.broadcast_to(np.asarray(side, dtype=np.int64), (n,)).copy(),
        qty=np.full(n, np.nan) if qty is None else np.asarray(qty, dtype=np.float64),
        trader=np.full(n, -1) if trader is None else np.asarray(trader, dtype=np.int64),
    )


@dataclass(frozen=True, slots=True)
class Season:
    """A stretch from market restart to market end; `end_us` is the first moment after it."""

    name: str
    start_us: int
    end_us: int


@dataclass(frozen=True, slots=True)
class ItemSettings:
    """What the user has said of one item.

    Attributes:
        family: Items that behave alike and borrow each other's spread; None: none named.
        usual_qty: Units one buys at a time, where a ladder is read; None: one usual listing.
        lots_of: Sold only in multiples of this many units.
    """

    family: str | None = None
    usual_qty: float | None = None
    lots_of: int = 1


@dataclass(frozen=True, slots=True)
class MarketSettings:
    """What holds for the whole market.

    Attributes:
        money: The item that everything is valued in.
        sale_fee: Share of the price lost on each sale, in [0, 1).
        seasons: Any order; they do not overlap.
        items: Settings by item name; items not in it have the defaults.
        kept, dropped: Ids of quotes that the user overruled: never, always screened.
        own: Ids of the user's own listings, which say nothing of what others ask:
            screened unless kept.
    """

    money: str
    sale_fee: float = 0.0
    seasons: Sequence[Season] = ()
    items: Mapping[str, ItemSettings] = field(default_factory=dict)
    kept: frozenset[int] = frozenset()
    dropped: frozenset[int] = frozenset()
    own: frozenset[int] = frozenset()

    @property
    def left_out(self) -> frozenset[int]:
        """Ids of quotes that are never looked at: dropped ones, and one's own listings."""
        return self.dropped | (self.own - self.kept)

    def of(self, item: str) -> ItemSettings:
        """The settings of an item, the defaults where nothing was said."""
        return self.items.get(item, _DEFAULT)


_DEFAULT = ItemSettings()
