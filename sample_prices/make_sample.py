"""Make the sample prices of Harrow Fen again: `python -m sample_prices.make_sample [FOLDER]`.

All of it is invented. The same seed gives the same files; the old generator of
numpy is used because its stream is promised never to change.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from sample_prices.layouts import (
    SHEET_TITLE,
    TOWN_TIME,
    Fault,
    write_canonical,
    write_semicolons,
    write_sheet,
    write_stall_book,
)
from sample_prices.planted_faults import plant_faults
from sample_prices.seen_quotes import Market, Seen, see_season
from sample_prices.town import GAPS, GOODS, SEASONS, spread_of
from sample_prices.true_levels import Levels, asks_and_sales, draw_true_levels, storm_lantern_costs

SEED = 41
SPRING_SOURCES = (("market walk", 0.7), ("bridge board", 0.3))
AUTUMN_SOURCES = (
    ("market walk", 0.30),
    ("bridge board", 0.12),
    ("evening hall", 0.22),
    ("stall book", 0.20),
    ("guild", 0.16),
)
SEEN_TWICE = 24
"""Quotes of the evening hall that the guild noted too, word for word."""


def make_sample(folder: Path) -> None:
    """Write all price files and the ground truth into the folder."""
    random = np.random.RandomState(SEED)
    spring, autumn = (
        Market(season, draw_true_levels(season, random), random) for season in SEASONS
    )
    spring_rows = plant_faults(spring, see_season(spring, SPRING_SOURCES))
    autumn_rows = plant_faults(autumn, see_season(autumn, AUTUMN_SOURCES))
    inbox = folder / "inbox"
    inbox.mkdir(parents=True, exist_ok=True)
    files = write_files(inbox, spring_rows, autumn_rows)
    truth = {
        "about": "Invented. Ground truth of the sample prices: what was planted, what was true.",
        "seed": SEED,
        "files": [facts for facts, _ in files],
        "planted": [fault for _, faults in files for fault in faults],
        "gaps": [list(gap) for gap in GAPS],
        "seasons": [season_truth(market) for market in (spring, autumn)],
    }
    (folder / "expected.json").write_text(compact_json(truth), encoding="utf-8")


Written = tuple[dict[str, object], list[dict[str, object]]]


def write_files(inbox: Path, spring: list[Seen], autumn: list[Seen]) -> list[Written]:
    """Write each layout; what is in each file, and which faults stand on which line."""
    noted = {
        name: [row for row in autumn if row.source in places]
        for name, places in (
            ("walk", ("market walk", "bridge board")),
            ("hall", ("evening hall",)),
            ("stall", ("stall book",)),
            ("guild", ("guild",)),
        )
    }
    honest = [row for row in noted["hall"] if row.fault is None]
    twice = honest[:: len(honest) // SEEN_TWICE][:SEEN_TWICE]
    guild = sorted([*noted["guild"], *twice], key=lambda row: (row.at, row.item))
    canonical = (("spring-fair.csv", spring), ("autumn-fair.csv", noted["walk"]))
    return [
        *(_canonical(inbox, name, rows) for name, rows in canonical),
        _evening_hall(inbox, noted["hall"]),
        _stall_book(inbox, [replace(row, source="", note="") for row in noted["stall"]]),
        _guild_sheet(inbox, guild, also_in_evening_hall=len(twice)),
    ]


def _canonical(inbox: Path, name: str, rows: list[Seen]) -> Written:
    lines = write_canonical(inbox / name, rows)
    return file_truth(name, rows, lines, layout="canonical", header_line=1)


def _evening_hall(inbox: Path, rows: list[Seen]) -> Written:
    name = "evening-hall.csv"
    lines = write_semicolons(inbox / name, rows)
    layout = "semicolons, decimal comma, d/m/y"
    return file_truth(name, rows, lines, layout=layout, header_line=1, encoding="cp1252")


def _stall_book(inbox: Path, rows: list[Seen]) -> Written:
    name = "stall-book.csv"
    lines, unreadable = write_stall_book(inbox / name, rows)
    return file_truth(
        name, rows, lines, layout="another header", header_line=1, unreadable=unreadable
    )


def _guild_sheet(inbox: Path, rows: list[Seen], *, also_in_evening_hall: int) -> Written:
    name = "guild-sheet.xlsx"
    lines = write_sheet(inbox / name, rows)
    return file_truth(
        name,
        rows,
        lines,
        layout="spreadsheet",
        header_line=3,
        title=SHEET_TITLE,
        totals_line=lines[-1] + 1,
        also_in_evening_hall=also_in_evening_hall,
    )


def file_truth(
    name: str,
    rows: list[Seen],
    lines: list[int],
    *,
    layout: str,
    unreadable: dict[int, Fault] | None = None,
    **more: object,
) -> Written:
    """What a reader must find in one file, and its planted faults by line."""
    unread = [
        {"line": line, "column": column, "reason": reason}
        for line, (column, reason) in (unreadable or {}).items()
    ]
    times = sorted(row.at.replace(tzinfo=TOWN_TIME) for row in rows)
    facts = {
        "file": f"inbox/{name}",
        "layout": layout,
        **more,
        "rows": len(rows) + len(unread),
        "readable": len(rows),
        "unreadable": unread,
        "sides": dict(sorted(Counter(row.side for row in rows).items())),
        "moneys": dict(sorted(Counter(row.money for row in rows).items())),
        "qty_sum": sum(row.qty for row in rows),
        "oldest": times[0].isoformat(),
        "newest": times[-1].isoformat(),
    }
    faults = [
        {"file": f"inbox/{name}", "line": line, "item": row.item, "kind": row.fault}
        for row, line in zip(rows, lines, strict=True)
        if row.fault is not None
    ]
    return facts, faults


def season_truth(market: Market) -> dict[str, object]:
    """True levels by day, in shell; route costs by day at the true ask and sale levels."""
    days = (market.season.last_day - market.season.first_day).days + 1
    asks, sales = asks_and_sales(market.levels)
    bids = {good.name: market.levels[good.name] * spread_of(good).bid for good in GOODS}
    return {
        "season": market.season.name,
        "first_day": market.season.first_day.isoformat(),
        "days": days,
        "days_seen": market.season.days_seen,
        "usual_qty": {good.name: good.usual_qty for good in GOODS},
        "ask": _rounded(asks),
        "sale_net": _rounded(sales),
        "bid": _rounded(bids),
        "route_cost": _rounded(storm_lantern_costs(market.levels)),
    }


def _rounded(levels: Levels) -> dict[str, list[float]]:
    return {name: [float(f"{value:.6g}") for value in path] for name, path in levels.items()}


def compact_json(truth: dict[str, object]) -> str:
    """JSON with one item, file or fault a line, so that a change can be read."""
    text = json.dumps(truth, indent=1, ensure_ascii=False)
    lines: list[str] = []
    depth = 0
    for line in text.splitlines():
        stripped = line.strip()
        if depth and lines:
            lines[-1] += (" " if lines[-1].endswith(",") else "") + stripped
        else:
            lines.append(line)
        if stripped.endswith(("[", "{")) and (depth or len(line) - len(line.lstrip()) >= 2):
            depth += 1
        elif depth and stripped.rstrip(",") in ("]", "}"):
            depth -= 1
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    make_sample(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
