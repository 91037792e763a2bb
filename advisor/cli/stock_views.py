"""How the stock answer looks on a terminal: a table by item, cost curves, offers, why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.cli.price_views import moment
from advisor.cli.screen import (
    BAR,
    printable,
    show,
    show_sentences,
    show_table,
    show_wrapped,
    width,
)
from advisor.figures import amount, percent
from advisor.tasks.stock_json import curve_quantities, post_line, reserve_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.decide.stock.later_days import ReservePrice
    from advisor.tasks.stock_items import SupplyAnswer
    from advisor.tasks.stock_purse import PursePart
    from advisor.tasks.stocking import Stock

CURVES_SHOWN = 3
DAYS_SHOWN = 4
STARTED_SHOWN, OTHERS_SHOWN = 6, 4
DAY_COLUMNS, ITEM_COLUMNS = 22, 17
LONGEST_BAR, NARROW = 24, 64


def show_stock(stock: Stock) -> None:
    """The whole answer."""
    pricing = stock.pricing
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    made = ", ".join(f"{each.pieces} by {each.route}" for each in stock.orders)
    show_wrapped(printable(f"Supplies for {made}; {when}, in {pricing.market.money}"))
    show()
    show_wrapped(printable(_verdict(stock)), first="  ", then="  ")
    show()
    _show_buying(stock)
    show()
    _show_lots(stock)
    _show_purse(stock)
    _show_later(stock)
    _show_offers(stock)
    _show_need(stock)
    show()
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


def _verdict(stock: Stock) -> str:
    bought = [each for each in stock.supplies if each.advice.buy_now]
    money = stock.pricing.market.money
    if not bought:
        return "BUY NOTHING NOW" + ("; see below up to which price later" if stock.days > 1 else "")
    what = ", ".join(f"{each.advice.buy_now} {each.item}" for each in bought)
    return f"BUY NOW for {amount(stock.spend_now)} {money}: {what}"


def _show_buying(stock: Stock) -> None:
    rows = [
        [
            each.item,
            f"{each.advice.buy_now}",
            amount(each.advice.pay_at_most, digits=3),
            amount(float(each.advice.spent[each.advice.place])),
            percent(each.advice.chance_short) if each.market.stockable else "-",
        ]
        for each in stock.supplies
    ]
    rows.append(["all", "", "", amount(stock.spend_now), percent(stock.chance_any_short)])
    show_table(["item", "buy", "at most", "now", "short"], rows, right="lrrrr")
    show_wrapped(
        "buy: today; at most: what the last lot may cost, each; now: what is paid today; short: "
        "chance that more will be needed."
    )


def _show_need(stock: Stock) -> None:
    rows = [
        [
            each.item,
            amount(each.use.mean, digits=3),
            f"{each.use.quantile(0.95)}",
            f"{each.on_hand}",
            amount(each.advice.expected_cost),
            amount(each.advice.plain_cost),
        ]
        for each in stock.supplies
    ]
    rows.append(["all", "", "", "", amount(stock.expected_cost), amount(stock.plain_cost)])
    show_table(["needed", "use", "1/20", "has", "in all", "plain"], rows, right="lrrrrr")
    show_wrapped(
        "use: on average, and (1/20) at least so many one time in twenty; in all: cost in the "
        "end, on average; plain: the same where the mean use is bought today."
    )


def _show_lots(stock: Stock) -> None:
    rows = []
    for each in stock.supplies:
        for lot in each.advice.lots:
            trader = stock.traders.get(lot.trader, "whoever offers next")
            risk = f" (counts {amount(lot.unit_price + lot.risk)})" if lot.risk else ""
            rows.append([each.item, amount(lot.qty), amount(lot.unit_price), trader + risk])
    if rows:
        show_table(["from whom", "units", "each", ""], rows, right="lrrl")
        show()


def _show_purse(stock: Stock) -> None:
    purse = stock.purse
    if purse is None:
        return
    rows = [
        [
            f"{each.pieces} by {each.route}",
            "start" if each.started else "-",
            percent(each.chance),
            amount(each.enough_80),
        ]
        for each in _parts_told(purse.parts)
    ]
    show_table(["one after the other", "", "lasts", "8 of 10"], rows, right="llrr")
    show_wrapped(
        f"lasts: chance that {amount(purse.budget)} {stock.pricing.market.money} last until then; "
        "8 of 10: money that is enough in 8 of 10 cases."
    )
    show()


def _parts_told(parts: Sequence[PursePart]) -> list[PursePart]:
    """The last ones started, the first not started, and the end."""
    started = [each for each in parts if each.started]
    others = [each for each in parts if not each.started]
    return started[-STARTED_SHOWN:] + others[:OTHERS_SHOWN] + others[OTHERS_SHOWN:][-1:]


def _show_later(stock: Stock) -> None:
    reserves = ((each.item, reserve_of(each)) for each in stock.supplies)
    later = {item: found for item, found in reserves if any(day.price > 0 for day in found)}
    if not later:
        return
    longest = max(later.values(), key=len)
    days = _days_told(longest)
    rows = [[item, *(_most_to_pay(found, day) for day in days)] for item, found in later.items()]
    show_table(["buy later", *(f"on day {day}" for day in days)], rows, right="l" * (len(days) + 1))
    item, first = max(
        ((item, each) for item, found in later.items() for each in found if each.day in days),
        key=lambda told: (told[1].units, told[1].price),
    )
    show_wrapped(
        f"{_most_to_pay([first], first.day)}: buy more {item} on day {first.day} if the usual lot "
        f"costs {amount(first.price, digits=3)} each or less; at the price foreseen for that day, "
        f"{first.units} more."
    )
    show()


def _days_told(later: Sequence[ReservePrice]) -> list[int]:
    shown = min(DAYS_SHOWN, max(2, (width() - ITEM_COLUMNS) // DAY_COLUMNS))
    places = sorted({round(k * (len(later) - 1) / (shown - 1)) for k in range(shown)})
    return [later[place].day for place in places]


def _most_to_pay(later: Sequence[ReservePrice], day: int) -> str:
    """Up to which price to buy on that day, and how many at the price foreseen."""
    found = [each for each in later if each.day == day]
    if not found or found[0].price <= 0:
        return "none"
    return f"up to {amount(found[0].price, digits=3)}, {found[0].units} more"


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
        show_table(["wanted post", "units", "bid", "filled", "in all"], rows, right="lrrrr")
        show_wrapped(
            "filled: chance that all are sold to you in time; else buy from the asks; in all: "
            "what each then comes to."
        )
        show()


def _dearest(stock: Stock) -> list[SupplyAnswer]:
    free = [each for each in stock.supplies if each.market.stockable and each.advice.plain_qty]
    return sorted(free, key=lambda each: -each.advice.expected_cost)[:CURVES_SHOWN]


def _show_curve(supply: SupplyAnswer) -> None:
    """What if one buys so many: the longer the bar, the more it costs beyond the best."""
    advice = supply.advice
    points = [advice.at(qty) for qty in curve_quantities(advice)]
    least = min(point.expected_cost for point in points)
    most = max(point.expected_cost for point in points)
    longest = LONGEST_BAR if width() >= NARROW else LONGEST_BAR // 3
    rows = [
        [
            f"{point.qty}{'*' if point.qty == advice.buy_now else ' '}",
            amount(point.spent_now),
            amount(point.expected_cost),
            percent(point.chance_short),
            BAR * round(longest * (point.expected_cost - least) / max(most - least, 1e-300)),
        ]
        for point in points
    ]
    show(f"{supply.item}: what if I buy")
    show_table(["buy ", "now", "in all", "short", ""], rows, right="rrrrl")
    show_wrapped("*: advised; bars: what it costs beyond the best of these.")
    show()
