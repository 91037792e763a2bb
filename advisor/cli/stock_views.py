"""How the stock answer looks on a terminal: a table by item, cost curves, offers, why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.cli.price_views import moment
from advisor.cli.screen import bars, show, show_sentences, show_table
from advisor.figures import amount, percent
from advisor.tasks.stock_json import curve_quantities, post_line, reserve_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.decide.stock.later_days import ReservePrice
    from advisor.tasks.stock_items import SupplyAnswer
from advisor.tasks.stocking import Stock

CURVES_SHOWN = 3
DAYS_SHOWN = 4


def show_stock(stock: Stock) -> None:
    """The whole answer."""
    pricing = stock.pricing
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    made = ", ".join(f"{each.pieces} by {each.route}" for each in stock.orders)
    show(f"Supplies for {made}; {when}, in {pricing.market.money}")
    show()
    _show_items(stock)
    show()
    _show_lots(stock)
    _show_later(stock)
    _show_offers(stock)
    for supply in _dearest(stock):
        _show_curve(supply)
    show_sentences(stock.reasons)
    show()
    show_sentences(stock.cautions, mark="! ")


def show_posts(stock: Stock) -> None:
    """Only the lines to put up."""
    lines = [post_line(each, stock.pricing.market.money) for each in stock.supplies]
    if not any(lines):
        show("No bid is better than buying from the asks: put up no wanted post.")
    for line in lines:
        if line:
            show(line)


def _show_items(stock: Stock) -> None:
    rows = []
    for each in stock.supplies:
        advice = each.advice
        rows.append(
            [
                each.item,
                amount(each.use.mean, digits=3),
                f"{each.use.quantile(0.95)}",
                f"{each.on_hand}",
                f"{advice.buy_now}",
                amount(advice.pay_at_most, digits=3),
                amount(float(advice.spent[advice.place])),
                amount(advice.expected_cost),
                amount(advice.plain_cost),
                percent(advice.chance_short) if each.market.stockable else "-",
            ]
        )
    rows.append(
        [
            "all",
            *("" for _ in range(5)),
            amount(stock.spend_now),
            amount(stock.expected_cost),
            amount(stock.plain_cost),
            percent(stock.chance_any_short),
        ]
    )
    show_table(
        ["item", "use", "1/20", "has", "buy", "at most", "now", "in all", "plain", "short"],
        rows,
        right="lrrrrrrrrr",
    )
    show("use: on average, and (1/20) at least so many one time in twenty; buy: today, at")
    show("most at so much each; now: spent today; in all: in the end, on average; plain:")
    show("the mean use bought today instead; short: chance that more will be needed.")


def _show_lots(stock: Stock) -> None:
    rows = []
    for each in stock.supplies:
        for lot in each.advice.lots:
            trader = stock.traders.get(lot.trader, "whoever offers next")
            rows.append([each.item, amount(lot.qty), amount(lot.unit_price), trader])
    if rows:
        show_table(["from whom", "units", "each", ""], rows, right="lrrl")
        show()


def _show_later(stock: Stock) -> None:
    rows = [
        [each.item, *_days_told(later)] for each in stock.supplies if (later := reserve_of(each))
    ]
    if not rows:
        return
    cells = max(len(row) for row in rows)
    show_table(
        ["later, at most", *("" for _ in range(cells - 1))],
        [row + [""] * (cells - len(row)) for row in rows],
        right="l" * cells,
    )
    show("day: most to pay for each of the usual lot (how many, at the price foreseen).")
    show()


def _days_told(later: Sequence[ReservePrice]) -> list[str]:
    places = sorted({round(k * (len(later) - 1) / (DAYS_SHOWN - 1)) for k in range(DAYS_SHOWN)})
    return [
        f"{later[k].day}: {amount(later[k].price, digits=3)} ({later[k].units})" for k in places
    ]


def _show_offers(stock: Stock) -> None:
    rows = [
        [
            each.item,
            f"{each.offer.units}",
            amount(each.offer.price, digits=3),
            percent(each.offer.chance_within),
            amount(each.offer.mean_unit_cost, digits=3),
        ]
        for each in stock.supplies
        if each.offer is not None
    ]
    if rows:
        show_table(["wanted post", "units", "bid", "filled", "each in all"], rows, right="lrrrr")
        show("filled: the chance that all are sold to you in time; else buy from the asks.")
        show()


def _dearest(stock: Stock) -> list[SupplyAnswer]:
    free = [each for each in stock.supplies if each.market.stockable and each.advice.plain_qty]
    return sorted(free, key=lambda each: -each.advice.expected_cost)[:CURVES_SHOWN]


def _show_curve(supply: SupplyAnswer) -> None:
    """What if one buys so many: the longer the bar, the more it costs beyond the best."""
    advice = supply.advice
    points = [advice.at(qty) for qty in curve_quantities(advice)]
    least = min(point.expected_cost for point in points)
    show(f"{supply.item}: what if I buy")
    lines = [
        (
            f"{point.qty}{' *' if point.qty == advice.buy_now else '  '}",
            point.expected_cost - least,
            f"{amount(point.spent_now)} now, {amount(point.expected_cost)} in all, "
            f"short {percent(point.chance_short)}",
        )
        for point in points
    ]
    for line in bars(lines, columns=24):
        show(line)
    show("* is advised; bars: what it costs beyond the best of these.")
    show()
