"""How the answer to selling looks on a terminal: the asks day by day, why, what else earns."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.cli.options import warn
from advisor.cli.price_views import moment
from advisor.cli.screen import show, show_sentences, show_table, show_wrapped
from advisor.decide.sell.sell_reasons import said_days
from advisor.figures import amount, percent
from advisor.tasks.sell_compared import Earning
from advisor.tasks.sell_json import post_line
from advisor.tasks.selling import Sell

SAID = {
    "list now": "LIST NOW at {ask} {money} each",
    "hold": "HOLD: list no cheaper than {ask} {money} today",
    "sell at once": "SELL AT ONCE to those who bid",
}
DAYS_SHOWN = 10
EARNINGS_SHOWN, UNTIMED_SHOWN = 6, 2


def show_sell(sell: Sell) -> None:
    """The whole answer."""
    pricing, advice = sell.pricing, sell.advice
    money = pricing.market.money
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    show(f"{sell.count} {sell.piece} to sell in {said_days(sell.days)}; {when}, in {money}")
    show()
    show("  " + SAID[advice.verdict].format(ask=amount(advice.ask_now), money=money))
    show()
    if advice.verdict != "sell at once":
        _show_schedule(sell)
    show_sentences(sell.reasons)
    show()
    _show_compared(sell)
    show_sentences(sell.cautions, mark="! ")


def show_sell_post(sell: Sell) -> None:
    """Only the line to put up."""
    show(post_line(sell) or "Put up no post: sell at once to those who bid.")
    for doubt in sell.doubts:
        warn(doubt)


def _show_schedule(sell: Sell) -> None:
    days = sell.advice.days
    step = max(1, -(-len(days) // DAYS_SHOWN))
    shown = [each for place, each in enumerate(days) if place % step == 0 or each is days[-1]]
    many = sell.count > 1
    rows = [
        [
            f"{each.day}",
            f"{each.left}",
            amount(each.ask),
            *([amount(each.asks[0]), amount(each.asks[-1])] if many else []),
            amount(each.sold_by_then, digits=2),
        ]
        for each in shown
    ]
    others = ["if 1", f"if {sell.count}"] if many else []
    headings = ["day", "left", "ask", *others, "sold"]
    show_table(headings, rows, right="r" * len(headings))
    meant = (
        f" if 1, if {sell.count}: the ask should only 1, or still all {sell.count}, be left."
        if many
        else ""
    )
    show_wrapped(
        "left: unsold pieces to expect that morning, half the time more, half fewer; ask: each, "
        f"that day;{meant} sold: on average by that evening, those sold to bidders counted."
    )
    show()


def _show_compared(sell: Sell) -> None:
    timed = [each for each in sell.compared if each.profit_per_hour is not None]
    untimed = [each for each in sell.compared if each.profit_per_hour is None]
    shown = [*timed[:EARNINGS_SHOWN], *untimed[:UNTIMED_SHOWN]]
    if shown:
        show_earnings(shown, more=len(sell.compared) - len(shown))
        show()


def show_earnings(earnings: Sequence[Earning], *, more: int = 0) -> None:
    """What each way earns: for one, for an hour, on the money tied up; and what that means."""
    rows = [
        [
            each.what,
            amount(each.profit),
            amount(each.profit_per_hour),
            percent(each.profit_per_money),
        ]
        for each in earnings
    ]
    show_table(["what an hour earns", "profit", "an hour", "on money"], rows, right="lrrr")
    if more:
        show(f"... and {more} more; --json has all.")
    show_wrapped(
        "profit: of one, sold as planned in the days there are; each one more earns less. Your "
        "own time is not taken off. an hour: profit for an hour of it; on money: profit on what "
        "is tied up in it."
    )
