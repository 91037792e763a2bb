"""What an answer leaves empty, in sentences: programs see why there is a null."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

NAMED_AT_MOST = 5

WHY_NULL = {
    "ask": "Nobody is seen asking",
    "bid": "Nobody is seen bidding",
    "sale": "Nothing tells what a sale brings",
    "family": "No family is set in the settings",
    "newest": "Nobody else's quote is known",
    "trend_per_day": "Too little is known for a trend",
}


def tell_null_prices(items: Sequence[Mapping[str, Any]]) -> list[str]:
    """Why fields of the rows of `prices` are null, one sentence a field.

    >>> tell_null_prices([{"item": "wax", "bid": None, "day_of_season": 3}])
    ['Nobody is seen bidding: wax.']
    """
    told = []
    for field, why in WHY_NULL.items():
        names = [row["item"] for row in items if field in row and row[field] is None]
        if names:
            told.append(f"{why}: {_named(names)}.")
    if any("day_of_season" in row and row["day_of_season"] is None for row in items):
        told.append("No season of the settings runs at that time.")
    return told


def _named(names: Sequence[str]) -> str:
    more = len(names) - NAMED_AT_MOST
    shown = ", ".join(names[:NAMED_AT_MOST])
    return shown if more <= 0 else f"{shown} and {more} more"
