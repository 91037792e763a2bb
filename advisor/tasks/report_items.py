"""An item as its page shows it: quotes, ladder, level, what is ahead; and stale prices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from advisor.levels.market import prices_json
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.tasks.crafting import Craft
from advisor.tasks.pricing import Pricing
from advisor.tasks.quote_list import list_quotes
from advisor.tasks.report_levels import LevelHistory
from advisor.tasks.walked_prices import standing_ladder
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339
from reports.pages_data import ItemPage, LadderStep, QuoteDot, StalePrice

STALE_DAYS = 3.0


def show_item_page(
    workspace: Workspace, pricing: Pricing, name: str, *, history: LevelHistory
) -> ItemPage:
    """One item's page: the present season's quotes, ladder, level day by day and forecast."""
    (prices,) = cast(list[dict[str, Any]], prices_json(pricing.market, [name])["items"])
    begin = us_to_rfc3339(_season_begin(pricing))
    dots = [
        QuoteDot(
            at=row["at"],
            value=row["value"],
            side=row["side"],
            qty=row["qty"],
            trader=row["trader"],
            screened=row["screened"],
        )
        for row in list_quotes(workspace, pricing, item=name)
        if row["value"] is not None and row["at"] >= begin
    ]
    return ItemPage(
        prices=prices,
        quotes=dots,
        levels=history.days(name),
        ladder=_ladder_steps(pricing, name, dots),
        earlier=history.earlier(name),
    )


def _season_begin(pricing: Pricing) -> int:
    """The first moment of the season one is in; a year back outside every season."""
    now = pricing.market.as_of_us
    for season in pricing.settings.seasons:
        if season.start_us <= now < season.end_us:
            return season.start_us
    return now - 366 * MICROSECONDS_A_DAY


def _ladder_steps(pricing: Pricing, name: str, dots: Sequence[QuoteDot]) -> list[LadderStep]:
    ladder = pricing.market.items[name].ladder
    if ladder is None:
        return []
    seen = {(dot.value, dot.qty): dot.trader for dot in dots if dot.side == "ask"}
    return [
        LadderStep(
            round(rung.qty),
            rung.unit_price,
            seen.get((rung.unit_price, None if rung.guessed else round(rung.qty))),
            rung.guessed,
        )
        for rung in standing_ladder(ladder, pricing.market.as_of_us).steps
    ]


def find_stale_prices(
    crafts: Sequence[Craft], pricing: Pricing, names: Sequence[str]
) -> list[StalePrice]:
    """Prices that an answer rests on and that nobody has looked at for days, oldest first."""
    stale = []
    for name in names:
        behind = [craft.piece for craft in crafts if name in _prices_behind(craft, pricing)]
        newest = pricing.market.items[name].newest_us
        if not behind or newest is None:
            continue
        days = (pricing.market.as_of_us - newest) / MICROSECONDS_A_DAY
        if days > STALE_DAYS:
            stale.append(StalePrice(name, us_to_rfc3339(newest), days, behind))
    return sorted(stale, key=lambda each: -(each.days_old or 0.0))


def _prices_behind(craft: Craft, pricing: Pricing) -> set[str]:
    best = craft.best_cost
    used = [] if best is None else [*best.use, *best.gives]
    return {craft.piece, *(pricing.name(item) for item in used)}
