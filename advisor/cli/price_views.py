"""How prices look on a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

from advisor.cli.screen import printable, show, show_table, show_wrapped, sparkline, unbroken
from advisor.figures import amount, counted
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.times import us_to_local

if TYPE_CHECKING:
    from advisor.levels.item_levels import ItemLevels, PriceLevel
    from advisor.tasks.pricing import Pricing
    from advisor.tasks.second_opinions import SecondOpinion

CURVE_DAYS = 24
CURVE_CELLS = 8
LADDER_ROWS = 12
_RULED = {"keep": "[kept by you]", "drop": "[dropped by you]"}


def show_overview(pricing: Pricing) -> None:
    """One line an item: three levels, spread, age, trend, a small curve."""
    market = pricing.market
    rows = []
    for name in market.items:
        levels = market.items[name]
        if levels.quotes == 0:
            continue
        rows.append(
            [
                name,
                amount(levels.ask.level, digits=3) if levels.ask else "-",
                _spread(levels.ask or levels.sale),
                amount(levels.bid.level, digits=3) if levels.bid else "-",
                amount(levels.sale.level, digits=3) if levels.sale else "-",
                age(levels, market.as_of_us),
                _trend(levels),
                _marked(levels),
                sparkline(_recent_asks(pricing, name)),
            ]
        )
    show_wrapped(f"Prices in {market.money}, {_when(pricing)}")
    show_table(
        ["item", "ask", "+/-", "bid", "sale", "age", "a day", "quotes", f"{CURVE_DAYS} days"],
        rows,
        right="lrrrrrrrl",
    )
    show_wrapped("ask: buying one's usual lot; bid, sale: sold at once or listed, after the fee.")
    show_wrapped("+/-: one standard deviation; quotes: seen, and of these not believed (-N).")


def show_nothing_known(pricing: Pricing, *, item: str | None = None) -> None:
    """That no price, or none of an item, was known at the moment of the answer."""
    what = "No price" if item is None else f"No price of {printable(item)}"
    quoted = "lantern frame 2.4 x60" if item is None else f"{printable(item)} PRICE"
    command = unbroken(f'makeworth quote "{quoted}"')
    show_wrapped(f"{what} was known by {_when(pricing)}. Quote one: {command}")


def show_item(pricing: Pricing, name: str, *, ladder_only: bool = False) -> None:
    """One item in full: levels, what was screened, ladder, forecast."""
    market = pricing.market
    levels = market.items[name]
    family = f" ({levels.family})" if levels.family else ""
    show_wrapped(printable(f"{name}{family}, in {market.money}, {_when(pricing)}"))
    if ladder_only:
        _show_ladder(levels)
        return
    if levels.ask or levels.bid or levels.sale:
        _show_levels(levels)
    day = f", day {levels.day_of_season} of the season" if levels.day_of_season else ""
    if levels.newest_us is not None:
        old = age(levels, market.as_of_us)
        show_wrapped(f"Newest quote {old} old; trend {_trend(levels)} a day{day}.")
    _show_screened(levels)
    _show_ladder(levels)
    _show_forecast(levels)


def show_second_opinion(opinion: SecondOpinion) -> None:
    """What the plain model says of an item's ask, and how far that is from ours."""
    level, apart = opinion.level, opinion.sds_apart
    show_wrapped(
        f"Second opinion: a local level model, fitted by statsmodels to "
        f"{counted(opinion.looks, 'look')}, puts the ask at {amount(level.level)} "
        f"+/- {amount(level.sd)}, 95 % from {amount(level.low_95)} to {amount(level.high_95)}; "
        f"{apart:.1f} standard deviations from ours."
    )


def show_quotes(rows: Sequence[dict[str, Any]], *, money: str, zone: tzinfo) -> None:
    """Every quote, oldest first, with why it was screened."""
    from advisor.levels.screening import OWN_STALL

    show_table(
        ["id", "seen", "side", "price", "qty", f"in {money}", "trader", "screened"],
        [
            [
                str(row["id"]),
                _local(row["at"], zone),
                row["side"],
                f"{row['price_as_typed']} {row['money']}",
                str(row["qty"] or ""),
                amount(row["value"]),
                row["trader"] or "",
                " ".join(filter(None, (row["screened"], _RULED.get(row["ruling"])))),
            ]
            for row in rows
        ],
        right="rllrrrll",
    )
    own = sum(row["screened"] == OWN_STALL for row in rows)
    doubted = sum(row["screened"] is not None for row in rows) - own
    listed = f", {own} of your own stall" if own else ""
    show(f"{counted(len(rows), 'quote')}{listed}, {doubted} not believed.")
    ruled = [str(row["id"]) for row in rows if row["ruling"]]
    if ruled:
        command = unbroken(f"makeworth prices --unrule {ruled[0]}")
        by_word = f"By your word, whatever the screening says: {', '.join(ruled)}"
        show_wrapped(f"{by_word}; take that back: {command}")


def moment(at_us: int, zone: tzinfo) -> str:
    """A moment as a person reads it, in the workspace's time zone."""
    return us_to_local(at_us, zone)


def age(levels: ItemLevels, as_of_us: int) -> str:
    """How old the newest quote is: minutes, hours or days."""
    if levels.newest_us is None:
        return "-"
    days = (as_of_us - levels.newest_us) / MICROSECONDS_A_DAY
    if days < 1 / 24:
        return f"{max(0, round(days * 1440))} min"
    return f"{days * 24:.0f} h" if days < 2 else f"{days:.0f} d"


def _when(pricing: Pricing) -> str:
    return moment(pricing.market.as_of_us, pricing.settings.timezone)


def _local(rfc3339: str, zone: tzinfo) -> str:
    return f"{datetime.fromisoformat(rfc3339).astimezone(zone):%Y-%m-%d %H:%M}"


def _spread(level: PriceLevel | None) -> str:
    return "-" if level is None else f"{100 * level.log_sd:.0f} %"


def _trend(levels: ItemLevels) -> str:
    return f"{100 * levels.trend_per_day:+.1f} %"


def _marked(levels: ItemLevels) -> str:
    return f"{levels.quotes}" + (f" -{levels.screened_quotes}" if levels.screened_quotes else "")


def _recent_asks(pricing: Pricing, name: str) -> list[float]:
    """Medians of the believed asks in each stretch of the last days; gaps are left out."""
    import numpy as np

    series, levels = pricing.series.get(name), pricing.market.items[name]
    if series is None:
        return []
    begin = pricing.market.as_of_us - CURVE_DAYS * MICROSECONDS_A_DAY
    cells: list[list[float]] = [[] for _ in range(CURVE_CELLS)]
    stretch = CURVE_DAYS * MICROSECONDS_A_DAY / CURVE_CELLS
    for quote, at_us, side in zip(series.ids, series.at_us, series.side, strict=True):
        value = levels.values.get(int(quote))
        if side == 0 and at_us > begin and value is not None and int(quote) not in levels.screened:
            cells[min(CURVE_CELLS - 1, int((at_us - begin) / stretch))].append(value)
    return [float(np.median(cell)) for cell in cells if cell]


def _show_levels(levels: ItemLevels) -> None:
    words = {
        "ask": "ask: where a usual lot settles",
        "bid": "bid: selling at once",
        "sale": "sale: listed",
    }
    rows = []
    for side, said in words.items():
        level = getattr(levels, side)
        if level is not None:
            band = f"{amount(level.low_95)} to {amount(level.high_95)}"
            rows.append([said, amount(level.level), amount(level.sd, digits=3), band])
    show_table(["", "level", "+/-", "19 times in 20 within"], rows, right="lrrr")


def _show_screened(levels: ItemLevels) -> None:
    from advisor.levels.screening import OWN_STALL

    counts: dict[str, int] = {}
    for reason in levels.screened.values():
        counts[reason] = counts.get(reason, 0) + 1
    own = counts.pop(OWN_STALL, 0)
    if own:
        show_wrapped(f"Of your own stall, and no news of what others ask: {counted(own, 'quote')}.")
    if counts:
        said = ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items()))
        of = counted(levels.quotes, "quote")
        show_wrapped(f"Not believed, of {of}: {said} (see --quotes).")


def _show_ladder(levels: ItemLevels) -> None:
    ladder = levels.ladder
    if ladder is None:
        show_wrapped("No believed asking price is known.")
        return
    if not ladder.steps:
        show("No standing offers are known.")
    rows, below, guessed = [], 0.0, False
    for rung in ladder.steps[:LADDER_ROWS]:
        below += rung.qty
        guessed = guessed or rung.guessed
        cost = ladder.cost_of(below)
        units = f"{'about ' * rung.guessed}{amount(rung.qty)}"
        up_to = f"{'about ' * guessed}{amount(below)}"
        rows.append([amount(rung.unit_price), units, up_to, amount(cost / below)])
    if rows:
        show("Offers last seen together:")
        show_table(["each", "units", "up to", "each on average"], rows, right="rrrr")
    if guessed:
        show_wrapped("about: nobody said how many; as many as are usually listed are taken.")
    if len(ladder.steps) > LADDER_ROWS:
        show(f"... and {counted(len(ladder.steps) - LADDER_ROWS, 'dearer offer')}.")
    usual = ladder.usual_qty
    said = ", ".join(
        f"{units:g} cost {amount(ladder.cost_of(units))}" for units in (usual, 2 * usual, 5 * usual)
    )
    how = "Buying now, cheapest first" if ladder.steps else "Buying now, at about the ask level"
    show_wrapped(f"{how}: {said}.")


def _show_forecast(levels: ItemLevels) -> None:
    words = (("ask", levels.forecast), ("sale", levels.sale_forecast))
    for said, forecast in words:
        if forecast:
            show(f"Where the {said} goes:")
            keys = ("0.05", "0.25", "0.5", "0.8", "0.95")
            show_table(
                ["in days", *(f"{float(key):.0%}" for key in keys)],
                [[str(days), *(amount(at[key]) for key in keys)] for days, at in forecast],
                right="r" * 6,
            )
