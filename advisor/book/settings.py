"""The workspace's settings: what `makeworth.toml` says, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from advisor.names import name_key

SETTINGS_FILE = "makeworth.toml"
USUAL_TRUST = 50.0

DateOrder = Literal["ask", "dmy", "mdy", "ymd"]
LedgerOrder = Literal["average", "fifo"]


@dataclass(frozen=True, slots=True)
class TradeSettings:
    """How one trades.

    Attributes:
        sale_fee: Share of the price lost on each sale, in [0, 1), exact.
        hour_value: What an hour of one's own time is worth, in the workspace's money, >= 0.
        caution: In [0, 1]: routes are compared by (1 - caution) * mean
            + caution * (mean of the worst 5 %).
        trust: Tries that odds written in a route file count as, >= 0.
        ledger: How leftovers are valued: moving average, or first in first out.
        stall: The name that one's own listings stand under: asks of that trader are one's own.
    """

    sale_fee: Fraction = Fraction(0)
    hour_value: Fraction = Fraction(0)
    caution: float = 0.0
    trust: float = USUAL_TRUST
    ledger: LedgerOrder = "average"
    stall: str | None = None


@dataclass(frozen=True, slots=True)
class Season:
    """A stretch from market restart to market end, in the workspace's timezone.

    Attributes:
        start_us: The first moment of its first day, microseconds UTC.
        end_us: The first moment after its last day.
    """

    name: str
    start_us: int
    end_us: int


@dataclass(frozen=True, slots=True)
class ItemSettings:
    """What the user has said of one item; None where nothing was said.

    Attributes:
        name: As written in the settings.
        family: Items that behave alike.
        also: Other spellings.
        usual_qty: Units one buys at a time, >= 1.
        lots_of: Sold only in multiples of this many units.
        sells_per_day: How many of one's own the market takes a day at the level, > 0.
        leftover: What one that is never sold is worth to the user, in the workspace's money.
    """

    name: str
    family: str | None = None
    also: tuple[str, ...] = ()
    usual_qty: int | None = None
    lots_of: int = 1
    sells_per_day: float | None = None
    leftover: float = 0.0


@dataclass(frozen=True, slots=True)
class Alert:
    """When `watch` should speak up: one condition of one item, piece or route.

    Attributes:
        item, below: This item's ask level at or under a price in the workspace's
            money, or under what stock advice says to pay at most.
        piece, verdict: The make-or-buy answer for this piece has changed.
        send: Addresses; may hold secrets, so never shown.
        above: The item's ask level at or over a price.
        moved, within_days: The ask level moved by this share, up or down, in so many days.
        stale_days: Nobody has quoted the item for so many days.
        bargain: Somebody asks less for the item than one would pay for the need of later days.
        route, pieces, short: What is on hand does not reach for so many pieces by this
            route, for some supply, with at least this chance.
        send_env: An environment variable that holds addresses.
    """

    item: str | None = None
    below: Fraction | Literal["advice"] | None = None
    piece: str | None = None
    verdict: bool = False
    send: tuple[str, ...] = field(default=(), repr=False)
    above: Fraction | None = None
    moved: Fraction | None = None
    within_days: int = 1
    stale_days: Fraction | None = None
    bargain: bool = False
    route: str | None = None
    pieces: int = 1
    short: Fraction | None = None
    send_env: str | None = None


@dataclass(frozen=True, slots=True)
class WatchSettings:
    """How `watch` works.

    Attributes:
        every_minutes: So often all is answered anew, whether or not prices came in.
        quiet_from, quiet_until: Between these, in the workspace's timezone, nothing is
            sent; it waits. None: no quiet hours.
        most_an_hour: So many messages an hour are sent one by one; the rest in one summary.
        send, send_env: Addresses, and an environment variable that holds some, for alerts
            that name none of their own; may hold secrets, so never shown.
    """

    every_minutes: int = 10
    quiet_from: time | None = None
    quiet_until: time | None = None
    most_an_hour: int = 6
    send: tuple[str, ...] = field(default=(), repr=False)
    send_env: str | None = None


@dataclass(frozen=True)
class Settings:
    """All that `makeworth.toml` says.

    Attributes:
        file: Where it was read from.
        money: The item that everything is valued in.
        timezone: How dates typed without an offset are read.
        date_order: How a date such as 3/4/2026 is read; "ask" refuses a file that leaves it open.
        seasons: By start; they do not overlap.
        items: By the name as written in the settings.
    """

    file: Path
    money: str
    timezone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))
    date_order: DateOrder = "ask"
    trade: TradeSettings = TradeSettings()
    seasons: tuple[Season, ...] = ()
    items: Mapping[str, ItemSettings] = field(default_factory=dict)
    alerts: tuple[Alert, ...] = ()
    watch: WatchSettings = WatchSettings()

    @cached_property
    def _by_key(self) -> dict[str, ItemSettings]:
        spellings = {name_key(each): item for item in self.items.values() for each in item.also}
        return spellings | {name_key(item.name): item for item in self.items.values()}

    def item(self, name: str) -> ItemSettings:
        """What was said of an item, by any of its spellings; the defaults where nothing was."""
        return self._by_key.get(name_key(name)) or ItemSettings(name)
