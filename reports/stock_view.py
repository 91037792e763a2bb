"""The page of a route's supplies: how many to buy, when, and at most at what price."""

from __future__ import annotations

import re
from collections.abc import Sequence

from advisor.figures import amount
from reports.answer_view import AnswerView, Part
from reports.decision_data import AskedAnswer
from reports.lines import count_axis, days_axis, dots, line, lines_figure, money_axis
from reports.page_parts import Chart, Column, Fact, Table
from reports.pages_data import Answer

ITEMS_DRAWN = 5


def stock_view(asked: AskedAnswer) -> AnswerView:
    """Everything on the page of a route's supplies."""
    stock = asked.answer
    money, items = stock["money"], stock["items"]
    return AnswerView(
        title=f"Supplies for {stock['route']}",
        trail=(),
        headline=stock_headline(stock),
        lead=f"What {_pieces(stock)}, {_until(stock['within'])}.",
        facts=(
            Fact(f"to spend today ({money})", "spend_now", stock["spend_now"]),
            Fact("in all, on average", "expected_cost", stock["expected_cost"]),
            Fact("the plain habit", "plain_cost", stock["plain_cost"]),
            Fact("something runs short", "chance_any_short", stock["chance_any_short"], "share"),
        ),
        parts=(
            Part("items", "What to buy", tables=(_items_table(stock), *_lots_table(items, money))),
            *_item_parts(items, money),
        ),
        command=asked.command,
        posts=tuple(each["post"] for each in items if each.get("post")),
        reasons=stock["reasons"],
        cautions=stock["cautions"],
    )


def stock_headline(stock: Answer) -> str:
    """What to buy today."""
    now = _bought_now(stock)
    if now:
        spent = f"{amount(stock['spend_now'])} {stock['money']}"
        return f"Buy today: {_listed(now)}, for {spent} in all."
    if any(each["reserve"] for each in stock["items"]):
        return "Buy nothing today at these prices: wait for the prices below."
    return "Nothing needs to be bought ahead."


def _bought_now(stock: Answer) -> list[str]:
    items = [each for each in stock["items"] if each["buy_now"]]
    return [f"{amount(each['buy_now'])} {each['item']}" for each in items]


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _pieces(stock: Answer) -> str:
    count = stock["pieces"]
    one = "1 piece needs" if count == 1 else f"{count} pieces need"
    return f"{one} by {stock['route']}"


def _until(days: int) -> str:
    return "to be there tomorrow" if days == 1 else f"bought over the next {days} days"


def _items_table(stock: Answer) -> Table:
    money = stock["money"]
    columns = (
        Column("item", "item"),
        Column("needed on average", "number"),
        Column("1 in 20 needs", "number"),
        Column("there already", "number"),
        Column("buy today", "number"),
        Column(f"at most, each ({money})", "number"),
        Column("spent today", "number"),
        Column("in all, on average", "number"),
        Column("plain habit", "number"),
        Column("more will be needed", "share"),
    )
    keys = ("buy_now", "pay_at_most", "spend_now", "expected_cost", "plain_cost", "chance_short")
    rows = [
        (
            each["item"],
            each["use"]["mean"],
            each["use"]["quantiles"]["0.95"],
            each["on_hand"],
            *(each[key] for key in keys),
        )
        for each in stock["items"]
    ]
    return Table(f"Item by item, in {money}", columns, rows)


def _lots_table(items: Sequence[Answer], money: str) -> tuple[Table, ...]:
    rows = [
        (each["item"], lot["qty"], lot["unit_price"], lot["trader"] or "whoever sells")
        for each in items
        for lot in each["lots"]
    ]
    columns = (
        Column("item", "item"),
        Column("units", "number"),
        Column(f"price of one ({money})", "number"),
        Column("from"),
    )
    return (Table("Lots to take today", columns, rows),) if rows else ()


def _item_parts(items: Sequence[Answer], money: str) -> list[Part]:
    """Two charts for each of the dearest items that can be bought ahead."""
    ahead = [each for each in items if each["curve"] and len(each["curve"]) > 1]
    ahead = [each for each in ahead if each["reserve"] or each["buy_now"]] or ahead
    drawn = sorted(ahead, key=lambda each: -each["expected_cost"])[:ITEMS_DRAWN]
    parts = []
    for number, each in enumerate(drawn, start=1):
        charts = [_curve_chart(each, money, number)]
        if each["reserve"]:
            charts.append(_reserve_chart(each, money, number))
        parts.append(Part(f"item-{number}-{_slug(each['item'])}", each["item"], charts))
    return parts


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _curve_chart(item: Answer, money: str, number: int) -> Chart:
    """What the need costs in the end, by how many are bought today."""
    curve = item["curve"]
    qty = [each["qty"] for each in curve]
    cost = [each["expected_cost"] for each in curve]
    best = next(each for each in curve if each["qty"] == item["buy_now"])
    hover = f"%{{x}} bought today: %{{y:.4~g}} {money} in all"
    return Chart(
        name=f"quantity-{number}",
        finding=f"{_bought(best['qty'])} today costs {amount(best['expected_cost'])} {money} "
        "in the end, the least on average",
        reading=(
            "To the right more is bought today. The line is what the need costs in the end on "
            "average, leftovers sold again; the mark is what is advised."
        ),
        figure=lines_figure(
            [
                line(qty, cost, dash="solid", hover=hover),
                dots([best["qty"]], [best["expected_cost"]], colour="@ink", hover=hover),
            ],
            x=count_axis("units bought today", max(qty)),
            y=money_axis(f"cost in the end ({money})", cost),
        ),
        tables=(
            Table(
                f"By how many are bought today, in {money}",
                (
                    Column("bought today", "number"),
                    Column("spent today", "number"),
                    Column("in the end, on average", "number"),
                    Column("more will be needed", "share"),
                ),
                [
                    (each["qty"], each["spend_now"], each["expected_cost"], each["chance_short"])
                    for each in curve
                ],
            ),
        ),
        height_px=280,
    )


def _bought(qty: float) -> str:
    return "Buying none" if not qty else f"Buying {amount(qty)}"


def _reserve_chart(item: Answer, money: str, number: int) -> Chart:
    """The most to pay for one, day by day."""
    today = item["pay_at_most"]
    days = [each["day"] for each in item["reserve"]]
    prices = [each["price"] for each in item["reserve"]]
    if today is not None:
        days, prices = [0, *days], [today, *prices]
    hover = f"day %{{x}}: at most %{{y:.4~g}} {money}"
    return Chart(
        name=f"reserve-{number}",
        finding=_reserve_finding(item, money),
        reading=(
            "A day with a lower price than the line is a day to buy; with a higher one, wait. "
            "Which day it will be, nobody knows."
        ),
        figure=lines_figure(
            [
                line(days, prices, dash="solid", hover=hover, shape="hv"),
                dots(days, prices, colour="@ask", hover=hover, size=7),
            ],
            x=days_axis(max(days)),
            y=money_axis(f"at most ({money})", prices),
        ),
        tables=(
            Table(
                f"The most to pay, in {money}",
                (
                    Column("days from today", "number"),
                    Column("at most, each", "number"),
                    Column("how many then, at the price foreseen", "number"),
                ),
                ([(0, today, item["buy_now"])] if today is not None else [])
                + [(each["day"], each["price"], each.get("units")) for each in item["reserve"]],
            ),
        ),
        height_px=240,
    )


def _reserve_finding(item: Answer, money: str) -> str:
    last = item["reserve"][-1]
    today = item["pay_at_most"]
    then = f"{amount(last['price'])} on day {last['day']}"
    if today is None:
        return f"Pay up to {then}"
    return f"Pay up to {amount(today)} {money} today, up to {then}"


def supplies_sentence(stock: Answer) -> str:
    """One line of it for the overview."""
    now = _bought_now(stock)
    in_all = f"{amount(stock['expected_cost'])} in all on average"
    if not now:
        return f"buy nothing today unless cheaper; {in_all}"
    return f"buy {_listed(now)} today for {amount(stock['spend_now'])}; {in_all}"
