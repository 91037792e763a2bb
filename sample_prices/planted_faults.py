"""What is wrong with some quotes, on purpose: the ground truth for screening.

wrong digit     ten times too much or too little: a slip of the finger
bait            an ask far below the level that nobody honours
price fixing    many asks within the hour by two traders, all far off one way
money mix-up    the number is right, the money beside it is not
stale ladder    the same asks seen again long after the market has moved
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from sample_prices.seen_quotes import (
    Market,
    Seen,
    nobody_looked,
    price_text,
    rate,
    see_ladder,
    side_factor,
)
from sample_prices.town import BAITER, GOODS, Good

BY_NAME = {good.name: good for good in GOODS}
BAITED = ("lantern frame", "etching salt", "binding wax", "storm lantern", "frostglass")
FIXERS = (BAITER, "Crake & Daughters")
FIXED = {
    "spring fair": (("smoked glass", 47, 1.75), ("lantern frame", 80, 1.6)),
    "autumn fair": (
        ("frostglass", 31, 1.7),
        ("lantern frame", 51, 0.55),
        ("storm lantern", 58, 1.6),
    ),
}
"""Per season: (item, day, how far off)."""
STALE = {
    "spring fair": (("binding wax", 2, 19),),
    "autumn fair": (("clear flux", 2, 18), ("etching salt", 3, 15)),
}
"""Per season: (item, first day, last day): one ladder, seen again and again."""


def plant_faults(market: Market, rows: list[Seen]) -> list[Seen]:
    """The honest rows with faults put in and false ones added, oldest first."""
    rows = _slip_digits(market, rows)
    rows = _mix_up_moneys(market, rows)
    for item in BAITED:
        rows += _bait(market, BY_NAME[item])
    for item, day, factor in FIXED[market.season.name]:
        rows += _fix_price(market, BY_NAME[item], day, factor)
    for item, first, last in STALE[market.season.name]:
        rows += _leave_ladder_standing(market, BY_NAME[item], first, last)
    seen = [row for row in rows if not _was_unseen(market, row)]
    return sorted(seen, key=lambda row: (row.at, row.item, row.source))


def _was_unseen(market: Market, row: Seen) -> bool:
    day = (row.at.date() - market.season.first_day).days
    return nobody_looked(market.season, BY_NAME[row.item], day)


def _pick_some(market: Market, among: list[int], count: int) -> list[int]:
    return sorted(among[int(place)] for place in market.random.permutation(len(among))[:count])


def _slip_digits(market: Market, rows: list[Seen]) -> list[Seen]:
    plain = [i for i, row in enumerate(rows) if "/" not in row.price and row.item != "crown"]
    slipped = list(rows)
    for index in _pick_some(market, plain, 14):
        factor = 10.0 if market.random.random_sample() < 0.5 else 0.1
        price = price_text(float(rows[index].price) * factor)
        slipped[index] = replace(rows[index], price=price, fault="wrong digit")
    return slipped


def _mix_up_moneys(market: Market, rows: list[Seen]) -> list[Seen]:
    dear = [
        index
        for index, row in enumerate(rows)
        if BY_NAME[row.item].in_crowns > 0.3 and row.fault is None
    ]
    picked = _pick_some(market, dear, 6)
    other = {"shell": "crown", "crown": "shell"}
    return [
        replace(row, money=other[row.money], fault="money mix-up") if index in picked else row
        for index, row in enumerate(rows)
    ]


def _bait(market: Market, good: Good) -> list[Seen]:
    baits = []
    for _ in range(4):
        day = int(market.random.randint(market.season.days_seen))
        money = "crown" if good.in_crowns > 0.5 else "shell"
        value = market.levels[good.name][day] * market.random.uniform(0.25, 0.5)
        baits.append(
            Seen(
                market.moment(day),
                good.name,
                price_text(value / rate(market, money, day)),
                money,
                "ask",
                2 * good.usual_qty,
                BAITER,
                "bridge board",
                "first come" if market.random.random_sample() < 0.5 else "",
                "bait",
            )
        )
    return baits


def _fix_price(market: Market, good: Good, day: int, factor: float) -> list[Seen]:
    start = market.moment(day)
    money = "crown" if good.in_crowns > 0.5 else "shell"
    value = market.levels[good.name][day] * side_factor(good, "ask") * factor
    return [
        Seen(
            start + timedelta(minutes=5 * number),
            good.name,
            price_text(value * market.random.uniform(0.985, 1.015) / rate(market, money, day)),
            money,
            "ask",
            good.usual_qty,
            FIXERS[number % 2],
            "bridge board",
            "",
            "price fixing",
        )
        for number in range(8)
    ]


def _leave_ladder_standing(market: Market, good: Good, first: int, last: int) -> list[Seen]:
    """The ladder of the first day, seen again every second day; a fault once it is 15 % off."""
    seen_first = see_ladder(market, good, first, place="bridge board")
    rows = list(seen_first)
    then = market.levels[good.name][first]
    for day in range(first + 2, last + 1, 2):
        stale = then / market.levels[good.name][day] > 1.15
        at = market.moment(day)
        fault = "stale ladder" if stale else None
        rows += [replace(row, at=at, fault=fault) for row in seen_first]
    return rows
