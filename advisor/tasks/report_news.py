"""What is not as it was yesterday, and which alerts hold."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from advisor.errors import MakeworthError
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.alerting import AlertDesk, alerts_now
from advisor.tasks.craft_json import craft_json
from advisor.tasks.crafting import advise_craft
from advisor.tasks.pricing import Pricing, read_pricing
from advisor.tasks.routing import RouteBook
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339
from reports.decision_data import AlertLine, AskedAnswer, Change

LEAST_CHANGE = 0.02
"""A price that moved less is as it was, and so is one that moved within its own spread."""

Crafts = Mapping[str, Mapping[str, Any]]
"""Answers to make or buy, by piece."""


def price_yesterday(workspace: Workspace, pricing: Pricing) -> Pricing | None:
    """The prices as known a day before; None where nothing was known then."""
    then = us_to_rfc3339(pricing.market.as_of_us - MICROSECONDS_A_DAY)
    before = read_pricing(workspace, as_of=then)
    return before if any(before.market.items[name].quotes for name in before.market.items) else None


def craft_yesterday(book: RouteBook, pricing: Pricing, pieces: Sequence[str]) -> Crafts:
    """Make or buy as it was answered then; pieces without an answer are left out."""
    found = {}
    for piece in pieces:
        try:
            found[piece] = craft_json(advise_craft(book, pricing, piece=piece))
        except MakeworthError:
            continue
    return found


def find_changes(
    before: Pricing, now: Pricing, *, crafts_before: Crafts, crafts: Crafts
) -> list[Change]:
    """What has changed: verdicts first, then costs and prices, the largest change first."""
    verdicts, moved = [], []
    for piece, craft in crafts.items():
        old = crafts_before.get(piece)
        if old is None:
            continue
        was, is_now = _mean(old), _mean(craft)
        if old["verdict"] != craft["verdict"]:
            words = f"the answer turned from {old['verdict']} to {craft['verdict']}"
            verdicts.append(Change(piece, "piece", was, is_now, words))
        elif was and is_now and was > 0 and abs(is_now / was - 1) >= LEAST_CHANGE:
            words = f"making it costs {_moved(was, is_now)}"
            moved.append((abs(is_now / was - 1), Change(piece, "piece", was, is_now, words)))
    moved += _moved_prices(before, now)
    return [*verdicts, *(change for _, change in sorted(moved, key=lambda each: -each[0]))]


def _mean(craft: Mapping[str, Any]) -> float | None:
    return None if craft["make"] is None else craft["make"]["mean"]


def _moved(was: float, is_now: float) -> str:
    word = "more" if is_now > was else "less"
    return f"{100 * abs(is_now / was - 1):.0f} % {word}"


def _moved_prices(before: Pricing, now: Pricing) -> list[tuple[float, Change]]:
    found = []
    for name in now.market.items:
        levels, old = now.levels(name), before.levels(name)
        if levels is None or levels.ask is None:
            continue
        level = levels.ask.level
        if old is None or old.ask is None:
            change = Change(name, "item", None, level, "asked for the first time")
            found.append((LEAST_CHANGE, change))
            continue
        log_change = math.log(level / old.ask.level)
        if abs(log_change) >= max(LEAST_CHANGE, old.ask.log_sd):
            words = f"it costs {_moved(old.ask.level, level)}"
            found.append((abs(log_change), Change(name, "item", old.ask.level, level, words)))
    return found


def show_alerts(
    workspace: Workspace,
    book: RouteBook,
    pricing: Pricing,
    *,
    before: Pricing | None,
    stocks: Mapping[str, AskedAnswer],
    crafts: Crafts,
) -> list[AlertLine]:
    """Whether each alert of the settings holds now; their addresses are never told.

    Args:
        before: The prices of the day before.
        stocks, crafts: What was answered already.
    """
    if not pricing.settings.alerts:
        return []
    desk = AlertDesk(
        workspace,
        book,
        pricing,
        stocks={route: asked.answer for route, asked in stocks.items()},
        crafts=dict(crafts),
        levels_before={} if before is None else {1: before},
    )
    states = alerts_now(workspace, desk=desk)
    return [AlertLine(each.what, each.holds, each.words) for each in states]
