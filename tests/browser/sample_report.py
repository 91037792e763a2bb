"""A report of Harrow Fen, large enough to look at. Everything in it is invented."""

from __future__ import annotations

import itertools
import math
import random
from datetime import UTC, datetime, timedelta

import numpy as np

from reports.pages_data import (
    CostOdds,
    CostPart,
    EarlierSeason,
    ItemPage,
    LadderStep,
    LevelDot,
    PictureEdge,
    PictureStage,
    PiecePage,
    QuoteDot,
    Report,
    RouteDrawing,
    StalePrice,
)

AS_OF = datetime(2026, 10, 30, 18, tzinfo=UTC)
DAYS = 60
SLY = '<a href="https://sly.invalid/">gift</a><img src="x.png" onerror="alert(1)"> & Sons'
"""A trader's name that would be markup if it were not escaped."""

LEVELS = {
    "lantern frame": 1.9,
    "binding wax": 2.35,
    "etching salt": 0.62,
    "clear flux": 7.4,
    "lens setting": 21.0,
    "amber wax": 3.1,
    "scrap glass": 0.8,
    "crown": 48.0,
    "marked lantern frame": 214.0,
    "storm lantern": 431.0,
}
FAMILIES = {"binding wax": "waxes", "amber wax": "waxes", "crown": "moneys"}
KEYS = ("0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99")
TRADERS = ("Odo Reed", "Wenna", "Brack & Daughter", SLY, None)


def stamp(at):
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def harrow_fen():
    items = tuple(item_page(name, level) for name, level in LEVELS.items())
    return Report(
        workspace="Harrow Fen",
        as_of=stamp(AS_OF),
        money="shell",
        pieces=(storm_lantern(), marked_frame(), moth_lantern()),
        items=items,
        stale=(
            StalePrice("lens setting", stamp(AS_OF - timedelta(days=9)), 9.0, ("storm lantern",)),
            StalePrice("fog glass", None, None, ("moth lantern",)),
        ),
        cautions=("The salt has been bought up twice this season: look before you buy fifty.",),
    )


def etched_costs(count=60_000):
    """Costs of the etched way, drawn from its odds with a fixed seed."""
    rng = np.random.default_rng(11)
    one_try = LEVELS["lantern frame"] + LEVELS["binding wax"] + 3 * LEVELS["etching salt"] + 0.5
    costs = np.zeros(count)
    open_runs = np.arange(count)
    while open_runs.size:
        costs[open_runs] += one_try * rng.geometric(1 / 40, open_runs.size)
        costs[open_runs] += 2 * LEVELS["clear flux"]
        held = rng.random(open_runs.size) < 0.76
        costs[open_runs[held]] += LEVELS["lens setting"]
        open_runs = open_runs[~held]
    return costs * rng.lognormal(0.0, 0.04, count)


def law_of(costs, cell=1.0):
    cells = np.bincount((costs / cell).astype(int))
    return CostOdds(((np.arange(cells.size) + 0.5) * cell).tolist(), (cells / cells.sum()).tolist())


def cost_answer(costs):
    worst = np.sort(costs)[int(0.95 * costs.size) :]
    return {
        "mean": float(costs.mean()),
        "sd": float(costs.std()),
        "quantiles": {key: float(np.quantile(costs, float(key))) for key in KEYS},
        "shortfall_95": float(worst.mean()),
    }


def storm_lantern():
    costs = etched_costs()
    make = cost_answer(costs)
    price = LEVELS["storm lantern"]
    cheaper = float((costs < price).mean())
    craft = {
        "piece": "storm lantern",
        "for": "keep",
        "money": "shell",
        "as_of": stamp(AS_OF),
        "verdict": "make",
        "route": "storm-lantern-etched",
        "buy": {
            "level": price,
            "sd": 9.5,
            "quotes": 31,
            "newest": stamp(AS_OF - timedelta(hours=5)),
        },
        "make": make,
        "saving": {"mean": price - make["mean"], "sd": 14.2},
        "chance_make_cheaper": 0.83,
        "chance_this_one_cheaper": cheaper,
        "uncertainty": {"luck": 0.93, "prices": 0.05, "odds": 0.02},
        "routes": [
            {
                "route": "storm-lantern-etched",
                "mean": make["mean"],
                "sd": 13.1,
                "chance_cheapest": 0.71,
            },
            {
                "route": "storm-lantern-fused",
                "mean": make["mean"] + 21.5,
                "sd": 22.0,
                "chance_cheapest": 0.24,
            },
            {
                "route": "storm-lantern-inlaid",
                "mean": make["mean"] + 67.0,
                "sd": 18.4,
                "chance_cheapest": 0.05,
            },
        ],
        "break_even": [
            {"item": "lantern frame", "now": 1.9, "flips_at": 2.61, "change": 0.3737},
            {"item": "binding wax", "now": 2.35, "flips_at": 3.06, "change": 0.3021},
            {"item": "etching salt", "now": 0.62, "flips_at": 0.857, "change": 0.3823},
            {"item": "storm lantern", "now": 431.0, "flips_at": 387.5, "change": -0.1009},
            {"item": "clear flux", "now": 7.4, "flips_at": 21.7, "change": 1.93},
            {"odds": "etch", "now": 0.025, "flips_at": 0.0217, "change": -0.132},
        ],
        "choices": {
            "empty table": {
                "action": "step",
                "step": "take a frame",
                "cost_to_go": make["mean"],
            },
            "marked frame": {"action": "step", "step": "seal", "cost_to_go": 117.0},
            "dull lantern": {"action": "sell out", "step": None, "cost_to_go": 212.0},
        },
        "reasons": [
            f"A bad night: one time in twenty making costs {make['quantiles']['0.95']:.0f} shell.",
            "The largest part is lantern frame.",
        ],
        "cautions": ["Lens setting was last seen 9 days ago."],
    }
    return PiecePage(craft, (etched_drawing(costs, make["mean"]), fused_drawing()))


def part(item, units, whole, kind="used"):
    cost = units * LEVELS[item] * (1 if kind == "used" else -1)
    return CostPart(item, units, LEVELS[item], cost, cost / whole, kind)


def etched_drawing(costs, mean):
    tries = 40 / 0.76
    parts = (
        part("binding wax", tries, mean),
        part("lantern frame", tries, mean),
        part("etching salt", 3 * tries, mean),
        part("lens setting", 1.0, mean),
        part("clear flux", 2 / 0.76, mean),
        CostPart("shell", 0.5 * tries, 1.0, 0.5 * tries, 0.5 * tries / mean),
        part("scrap glass", 0.63, mean, "comes back"),
    )
    stages = (
        PictureStage("empty table", mean, start=True, visits=54.1),
        PictureStage("bare frame", mean - 1.9, visits=53.6),
        PictureStage("marked frame", 117.0, visits=1.32),
        PictureStage("dull lantern", 212.0, visits=0.18),
        PictureStage("storm lantern", 0.0, done=True, visits=1.0),
    )
    edges = (
        PictureEdge("empty table", "bare frame", "take a frame", best=True),
        PictureEdge("bare frame", "marked frame", "etch", odds=0.025, best=True),
        PictureEdge("bare frame", "empty table", "etch", odds=0.975, best=True),
        PictureEdge("marked frame", "storm lantern", "seal", odds=0.76, best=True),
        PictureEdge("marked frame", "dull lantern", "seal", odds=0.14, best=True),
        PictureEdge("marked frame", "empty table", "seal", odds=0.10, best=True),
        PictureEdge("dull lantern", "marked frame", "warm again", odds=0.35),
        PictureEdge("dull lantern", "empty table", "warm again", odds=0.65),
        PictureEdge(
            "dull lantern",
            "empty table",
            "dull storm lantern",
            kind="sell out",
            price=88.4,
            best=True,
        ),
        PictureEdge(
            "empty table", "marked frame", "marked lantern frame", kind="buy in", price=214.0
        ),
        PictureEdge(
            "bare frame", "marked frame", "marked lantern frame", kind="buy in", price=214.0
        ),
    )
    about = "Etch the marks into one frame after another until one takes them, then seal it."
    return RouteDrawing("storm-lantern-etched", about, law_of(costs), parts, stages, edges)


def fused_drawing():
    """Nine rungs of heat, up one or down one."""
    names = ["cold table", *(f"heat {rung}" for rung in range(1, 10)), "storm lantern"]
    stages = tuple(
        PictureStage(
            name,
            float(36 * (len(names) - 1 - at)),
            start=at == 0,
            done=at == len(names) - 1,
            visits=1.0 + at,
        )
        for at, name in enumerate(names)
    )
    edges = [PictureEdge(names[0], names[1], "light the fire", best=True)]
    for below, here, above in zip(names, names[1:], names[2:], strict=False):
        edges.append(PictureEdge(here, above, "fuse", odds=0.55, best=True))
        edges.append(PictureEdge(here, below, "fuse", odds=0.40, best=True))
        edges.append(PictureEdge(here, names[0], "fuse", odds=0.05, best=True))
    edges.append(PictureEdge("heat 4", "heat 6", "strong fuse", odds=0.3))
    edges.append(PictureEdge("heat 4", "heat 4", "strong fuse", odds=0.7))
    return RouteDrawing("storm-lantern-fused", None, None, (), stages, tuple(edges))


def long_route(stages=80):
    """A chain longer than a picture can hold."""
    names = [f"mark {at}" for at in range(stages)]
    return RouteDrawing(
        "long way",
        stages=tuple(
            PictureStage(
                name, float(stages - at), start=at == 0, done=at == stages - 1, visits=float(at % 7)
            )
            for at, name in enumerate(names)
        ),
        edges=tuple(
            PictureEdge(a, b, "mark", odds=0.5, best=True) for a, b in itertools.pairwise(names)
        ),
    )


def marked_frame():
    craft = {
        "piece": "marked lantern frame",
        "for": "keep",
        "money": "shell",
        "as_of": stamp(AS_OF),
        "verdict": "buy",
        "route": "marked-lantern-frame",
        "buy": {"level": 214.0, "sd": 6.0, "quotes": 18, "newest": stamp(AS_OF)},
        "make": {
            "mean": 264.4,
            "sd": 251.0,
            "quantiles": dict(
                zip(KEYS, (14.0, 77.5, 185.0, 421.0, 602.0, 783.0, 1203.0), strict=True)
            ),
            "shortfall_95": 1042.0,
        },
        "saving": {"mean": -50.4, "sd": 11.0},
        "chance_make_cheaper": 0.0004,
        "chance_this_one_cheaper": 0.551,
        "uncertainty": {"luck": 0.97, "prices": 0.03, "odds": 0.0},
        "routes": [
            {
                "route": "marked-lantern-frame",
                "mean": 264.4,
                "sd": 9.0,
                "chance_cheapest": 1.0,
            }
        ],
        "break_even": [
            {"item": "marked lantern frame", "now": 214.0, "flips_at": 264.4, "change": 0.2355},
            {"odds": "etch", "now": 0.025, "flips_at": 0.0309, "change": 0.236},
        ],
        "choices": {},
        "reasons": ["Making costs 264 shell on average, buying 214."],
        "cautions": [],
    }
    return PiecePage(craft)


def moth_lantern():
    """A piece that nobody sells and no route makes: nothing but nulls."""
    craft = {
        "piece": "moth lantern",
        "for": "keep",
        "money": "shell",
        "as_of": stamp(AS_OF),
        "verdict": "neither",
        "route": None,
        "buy": None,
        "make": None,
        "saving": None,
        "chance_make_cheaper": None,
        "chance_this_one_cheaper": None,
        "uncertainty": None,
        "routes": [],
        "break_even": [],
        "choices": {},
        "reasons": ["No route makes moth lantern at known prices."],
        "cautions": ["Fog glass has no quote in the book."],
    }
    return PiecePage(craft)


def item_page(name, level):
    rng = random.Random(name)
    track = [
        level * (1 + 0.35 * math.exp(-day / 14) + 0.04 * math.sin(day / 6)) for day in range(DAYS)
    ]
    quotes = quotes_of(track, rng)
    days = [AS_OF - timedelta(days=DAYS - 1 - day) for day in range(DAYS)]
    levels = tuple(
        LevelDot(stamp(at), value, value * 0.93, value * 1.07)
        for at, value in zip(days, track, strict=True)
    )
    now = track[-1]
    forecast = [
        {"days": ahead, "quantiles": fan(now * (1 - 0.004 * ahead), 0.03 * math.sqrt(ahead))}
        for ahead in (1, 3, 7, 14)
    ]
    prices = {
        "item": name,
        "family": FAMILIES.get(name),
        "ask": side(now, 0.03),
        "bid": side(now * 0.86, 0.05),
        "sale": side(now * 0.93, 0.04) if name != "scrap glass" else None,
        "quotes": len(quotes),
        "screened": sum(quote.screened is not None for quote in quotes),
        "newest": quotes[-1].at,
        "trend_per_day": -0.004,
        "day_of_season": DAYS,
        "forecast": forecast,
        "sale_forecast": [],
    }
    ladder, price = [], now * 0.97
    for qty in (10, 25, 12, 60, 40):
        ladder.append(LadderStep(qty, price, rng.choice(TRADERS)))
        price *= 1.0 + rng.random() * 0.05
    earlier = EarlierSeason(
        "spring fair",
        [stamp(at) for at in days],
        [value * (1.1 + 0.05 * math.cos(day / 9)) for day, value in enumerate(track)],
    )
    return ItemPage(prices, tuple(quotes), levels, tuple(ladder), (earlier,), ())


def fan(middle, spread):
    normal = dict(zip(KEYS, (-1.645, -0.674, 0.0, 0.842, 1.282, 1.645, 2.326), strict=True))
    return {key: middle * math.exp(spread * at) for key, at in normal.items()}


def side(level, spread):
    return {
        "level": level,
        "sd": level * spread,
        "low_95": level * math.exp(-1.96 * spread),
        "high_95": level * math.exp(1.96 * spread),
    }


def quotes_of(track, rng, per_day=3):
    quotes = []
    for day, level in enumerate(track):
        at = AS_OF - timedelta(days=DAYS - 1 - day)
        for _ in range(rng.randint(0, per_day)):
            kind = rng.choice(("ask", "ask", "ask", "bid", "deal"))
            value = level * {"ask": 1.03, "bid": 0.86, "deal": 0.97}[kind] * rng.gauss(1, 0.03)
            screened = None
            if rng.random() < 0.05:
                value, screened = value * rng.choice((10, 0.1)), "wrong digit"
            seen = at - timedelta(minutes=rng.randint(0, 600))
            quotes.append(
                QuoteDot(
                    stamp(seen),
                    value,
                    kind,
                    rng.choice((None, 5, 20, 60)),
                    rng.choice(TRADERS),
                    screened,
                )
            )
    quotes.append(QuoteDot(stamp(AS_OF), track[-1], "ask", 10, SLY, None))
    return sorted(quotes, key=lambda quote: quote.at)
