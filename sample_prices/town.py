"""Who trades what in Harrow Fen: goods, traders, seasons. All of it is invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Good:
    """One item of the town and how its market behaves.

    Attributes:
        family: Goods that behave alike; `SPREADS` says how.
        shells: Its level in shell in the calm middle of a season, at the earliest season's start.
        usual_qty: Units one usually buys at a time.
        seen_per_day: Mean number of times a day it is seen in the market.
        in_crowns: Share of its quotes given in crown.
        high: How far above the calm level a season starts, on the log scale.
        wake: How far it wakes up towards the end of a season, on the log scale.
        lots_of: Only offered and wanted in multiples of so many.
    """

    name: str
    family: str
    shells: float
    usual_qty: int
    seen_per_day: float
    in_crowns: float = 0.0
    high: float = 0.6
    wake: float = 0.25
    lots_of: int = 1


@dataclass(frozen=True)
class Spread:
    """Where asks, sales and bids stand beside the level, and how far single quotes stray."""

    ask: float
    sale: float
    bid: float
    stray: float


@dataclass(frozen=True)
class Season:
    """A stretch from market restart to market end, and how much of it was seen."""

    name: str
    first_day: date
    last_day: date
    days_seen: int
    shift: float  # log; everything dearer or cheaper than in the earliest season


SPREADS = {
    "frames": Spread(1.04, 0.985, 0.93, 0.030),
    "waxes": Spread(1.04, 0.985, 0.92, 0.032),
    "salts": Spread(1.04, 0.98, 0.92, 0.035),
    "glass": Spread(1.05, 0.98, 0.91, 0.035),
    "half-made": Spread(1.15, 0.95, 0.82, 0.045),
    "lanterns": Spread(1.06, 0.985, 0.90, 0.045),
    "services": Spread(1.08, 0.97, 0.88, 0.055),
    "moneys": Spread(1.012, 1.0, 0.988, 0.007),
}

SEASONS = (
    Season("spring fair", date(2026, 3, 1), date(2026, 6, 18), 110, 0.0),
    Season("autumn fair", date(2026, 9, 1), date(2026, 12, 20), 60, 0.06),
)

GOODS = (
    Good("crown", "moneys", 96.0, 1, 3.5, 0.0, -0.30, 0.10),
    Good("lantern frame", "frames", 2.3, 20, 3.6, 0.0, 0.62, 0.30),
    Good("river frame", "frames", 3.1, 15, 1.3, 0.0, 0.55, 0.25),
    Good("hinge pin", "frames", 0.42, 40, 1.0, 0.0, 0.50, 0.20),
    Good("carrying bail", "frames", 1.25, 10, 0.8, 0.0, 0.45, 0.20),
    Good("binding wax", "waxes", 2.2, 20, 2.8, 0.0, 0.66, 0.28),
    Good("amber wax", "waxes", 3.4, 10, 1.5, 0.0, 0.40, 0.22),
    Good("black wax", "waxes", 1.6, 20, 1.2, 0.0, 0.55, 0.24),
    Good("bee dregs", "waxes", 0.28, 60, 0.6, 0.0, 0.30, 0.10, 20),
    Good("etching salt", "salts", 0.86, 60, 3.2, 0.0, 0.70, 0.34, 10),
    Good("grey salt", "salts", 0.55, 60, 1.2, 0.0, 0.45, 0.20),
    Good("fixing salt", "salts", 1.45, 30, 1.4, 0.0, 0.60, 0.26),
    Good("river dye", "salts", 4.6, 10, 0.9, 0.0, 0.50, 0.30),
    Good("clear flux", "glass", 9.5, 6, 1.8, 0.05, 0.72, 0.22),
    Good("frostglass", "glass", 8.2, 10, 2.2, 0.05, 0.25, 0.40),
    Good("smoked glass", "glass", 5.2, 12, 1.6, 0.0, 0.35, 0.22),
    Good("lens blank", "glass", 14.0, 4, 1.1, 0.10, 0.50, 0.20),
    Good("scrap glass", "glass", 0.75, 40, 1.2, 0.0, 0.30, 0.10),
    Good("marked lantern frame", "half-made", 0.0, 1, 2.2, 0.75),
    Good("cut lens", "half-made", 31.0, 2, 0.9, 0.35, 0.45, 0.20),
    Good("bright lens piece", "half-made", 118.0, 1, 0.5, 0.85, 0.40, 0.25),
    Good("lantern body", "half-made", 12.5, 4, 0.8, 0.0, 0.40, 0.20),
    Good("storm lantern", "lanterns", 0.0, 1, 3.0, 0.85),
    Good("dull storm lantern", "lanterns", 0.0, 1, 1.1, 0.70),
    Good("harbour lantern", "lanterns", 9.8, 8, 1.9, 0.05, 0.66, 0.20),
    Good("marsh lantern", "lanterns", 61.0, 1, 0.9, 0.50, 0.35, 0.18),
    Good("moth lantern", "lanterns", 940.0, 1, 0.1, 1.0, 0.35, 0.15),
    Good("polish", "services", 54.0, 1, 1.2, 0.60, 0.55, 0.20),
    Good("lens setting", "services", 30.0, 1, 1.5, 0.70, 0.95, 0.25),
    Good("fusing", "services", 47.0, 1, 0.7, 0.80, 0.50, 0.20),
)

GLUTS = (("harbour lantern", 18, 40, -0.24),)
"""(item, first day, last day, log change): too many made, in the same weeks of every season."""

JUMPS = (
    ("autumn fair", "smoked glass", 38, 0.34),  # a fashion for dark panes
    ("autumn fair", "frostglass", 44, 0.16),
    ("spring fair", "river dye", 52, -0.28),  # a second dye works opens
)
"""(season, item, day, log change): from that day on everything is different."""

TRADERS = (
    "Tansy Rook",
    "Brân Tollow",
    "Inês Caldwater",
    "Widow Garrow",
    "Hob Lathe",
    "Ferry Joss",
    "Dorit Ashby",
    "Old Pemmick",
    "Nettie Sedge",
    "Crake & Daughters",
    "Zoë of the Weir",
    "Jory Fen",
)
BAITER = "Dodge Merrow"

GAPS = (
    ("spring fair", None, 33, 35),
    ("spring fair", "lens setting", 60, 70),
    ("autumn fair", None, 18, 20),
    ("autumn fair", "lantern body", 40, 60),
    ("autumn fair", "amber wax", 25, 31),
)
"""(season, item or None for all, first day, last day): nobody looked."""

NOTES = (
    "by the bridge",
    "will not split",
    "has more at home",
    "asked twice",
    "near the café",
    "crème label",
    "before the bell",
)


def spread_of(good: Good) -> Spread:
    """Where this good's asks, sales and bids stand beside its level."""
    return SPREADS[good.family]
